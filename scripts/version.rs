//! What `--version` says: the version, and of a program built to be used the commit as well.
//!
//! Run by cargo before the library is compiled (`build` in Cargo.toml). While the program is worked
//! on the commit stays out: every commit would compile the library again.

use std::process::Command;

fn git(words: &[&str]) -> Option<String> {
    let done = Command::new("git").args(words).output().ok()?;
    let text = String::from_utf8(done.stdout).ok()?;
    done.status.success().then(|| text.trim().to_owned())
}

/// The commit this is built from, marked when files differ from it. What is packed without its
/// history may bring the name in a variable.
fn commit() -> Option<String> {
    println!("cargo:rerun-if-env-changed=CAMWITNESS_COMMIT");
    if let Some(given) = std::env::var("CAMWITNESS_COMMIT").ok().filter(|given| !given.is_empty()) {
        return Some(given);
    }
    // A clone inside another repository is not that repository.
    let here = std::env::current_dir().and_then(|here| here.canonicalize()).ok()?;
    let top = std::fs::canonicalize(git(&["rev-parse", "--show-toplevel"])?).ok()?;
    if here != top {
        return None;
    }
    for name in ["HEAD", "logs/HEAD", "index"] {
        if let Some(path) = git(&["rev-parse", "--git-path", name]) {
            println!("cargo:rerun-if-changed={path}");
        }
    }
    let changed = !git(&["status", "--porcelain", "--untracked-files=no"])?.is_empty();
    let commit = git(&["rev-parse", "--short=10", "HEAD"])?;
    Some(if changed { format!("{commit}, changed") } else { commit })
}

fn main() {
    println!("cargo:rerun-if-changed=scripts/version.rs");
    let version = std::env::var("CARGO_PKG_VERSION").unwrap_or_default();
    let to_be_used = std::env::var("PROFILE").is_ok_and(|profile| profile == "release");
    let commit = if to_be_used { commit() } else { None };
    let said = commit.map_or(version.clone(), |commit| format!("{version} ({commit})"));
    println!("cargo:rustc-env=CAMWITNESS_VERSION={said}");
}
