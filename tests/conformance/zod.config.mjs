// Readers of every body, for the judge `zod`.
export default {
    input: process.env.DOCUMENT,
    output: "made",
    plugins: [{ name: "zod", dates: { offset: true, local: true } }],
};
