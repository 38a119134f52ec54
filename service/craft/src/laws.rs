//! On how many cases the tests try a law.

/// `ETUI_LAW_CASES`, for every law alike; as many as usual if it is not set.
pub(crate) fn cases(usual: u32) -> u32 {
    std::env::var("ETUI_LAW_CASES").ok().and_then(|cases| cases.parse().ok()).unwrap_or(usual)
}
