//! Which program this is.

use std::sync::LazyLock;

/// Version, build, profile and machine, such as `0.2.0 (3f5a1c0; release; x86_64-linux)`. The build
/// is what `ETUI_BUILD` said when it was compiled: a commit, a number; nothing without it.
pub(crate) fn version() -> &'static str {
    static TEXT: LazyLock<String> = LazyLock::new(|| {
        let profile = if cfg!(debug_assertions) { "debug" } else { "release" };
        let machine = format!("{}-{}", std::env::consts::ARCH, std::env::consts::OS);
        let parts = option_env!("ETUI_BUILD").into_iter().chain([profile, &machine]);
        let parts: Vec<&str> = parts.filter(|part| !part.is_empty()).collect();
        format!("{} ({})", env!("CARGO_PKG_VERSION"), parts.join("; "))
    });
    &TEXT
}
