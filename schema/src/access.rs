//! Who may do what: scopes of bearer tokens.

use crate::vocabulary::words;

words! {
    /// What a token allows. `admin` allows everything.
    Scope, "scope" {
        /// Stateless computing.
        Compute = "compute",
        /// Read checks.
        ChecksRead = "checks:read",
        /// Make checks. A check of a client draws on the health answers that are kept of
        /// her, and its findings tell of them to a token that may not read clients.
        ChecksWrite = "checks:write",
        /// Read clients, artists and machines.
        ClientsRead = "clients:read",
        /// Write clients, artists and machines.
        ClientsWrite = "clients:write",
        /// Forget clients for good.
        ClientsErase = "clients:erase",
        /// Read lots.
        DrawerRead = "drawer:read",
        /// Write lots.
        DrawerWrite = "drawer:write",
        /// Read treatment records.
        TreatmentsRead = "treatments:read",
        /// Write treatment records.
        TreatmentsWrite = "treatments:write",
        /// Read reminders.
        RemindersRead = "reminders:read",
        /// Claim reminders and report outcomes.
        RemindersWrite = "reminders:write",
        /// Read events, by their sequence or as they happen.
        EventsRead = "events:read",
        /// Read sign-offs, give them and take them back, as far as the artist that the
        /// token acts for may.
        SignOffs = "sign-offs",
        /// Read practice sheets and progress: of an artist's token her own, of a trainer's
        /// every student's.
        PracticeRead = "practice:read",
        /// Make practice sheets and hand them in, as far as the artist that the token acts
        /// for may.
        PracticeWrite = "practice:write",
        /// Everything, including plug-ins and metrics.
        Admin = "admin",
    }
}
