//! What a packet says.
