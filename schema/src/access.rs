//! Who may do what: scopes of bearer tokens.

use crate::vocabulary::words;

words! {
    /// What a token allows. `admin` allows everything.
    Scope, "scope" {
        /// Stateless computing.
        Compute = "compute",
        /// Read clients, artists, machines and checks.
        ClientsRead = "clients:read",
        /// Write clients, artists, machines and checks.
        ClientsWrite = "clients:write",
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
        /// Read sign-offs, give them and take them back, as far as the artist that the
        /// token acts for may.
        SignOffs = "sign-offs",
        /// Everything, including plug-ins and metrics.
        Admin = "admin",
    }
}
