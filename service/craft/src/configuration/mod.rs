//! What a configuration does in a skin.
