//! What happens after, on which day, and what cannot wait.
