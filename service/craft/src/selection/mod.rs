//! Which configuration to take, and why.
