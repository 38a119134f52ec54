//! Which store the studio runs on. A chain of studios that outgrows one
//! machine puts another implementation of the trait here.

use crate::store::{EmbeddedStore, Store};

/// The store.
pub type Engine = EmbeddedStore;
/// A consistent view of it.
pub type Snap = <Engine as Store>::Snap;
