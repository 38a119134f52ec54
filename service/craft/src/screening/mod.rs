//! May this skin be treated, when, under which conditions.
