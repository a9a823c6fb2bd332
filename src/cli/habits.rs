//! What people are used to where there is no shell of Unix: a double click, patterns the shell
//! leaves alone, text for readers that know no UTF-8.

use std::path::PathBuf;

/// Names with their patterns filled in: `*.csv` is every capture of the folder, by name. A name
/// that is a file, and a pattern nothing fits, stay as they are and are told of by whoever opens
/// them.
pub(super) fn expanded(names: Vec<PathBuf>) -> Vec<PathBuf> {
    let one = |name: PathBuf| {
        let text = name.to_str().filter(|text| text.contains(['*', '?', '[']));
        let found = text.filter(|_| !name.exists()).and_then(|text| glob::glob(text).ok());
        // Sorted by the crate; what cannot be listed is not there for this program.
        let found: Vec<PathBuf> = found.into_iter().flatten().flatten().collect();
        if found.is_empty() { vec![name] } else { found }
    };
    names.into_iter().flat_map(one).collect()
}

/// Text for a reader that may take it for another encoding: a shell of Windows that redirects. The
/// degree sign is written out, and what else this program writes has its plain counterpart; letters
/// of the user's own stay.
pub(super) fn plain(text: &str) -> String {
    const PLAIN: [(&str, &str); 16] = [
        ("°", " deg"),
        ("±", "+/-"),
        ("“", "\""),
        ("”", "\""),
        ("‘", "'"),
        ("’", "'"),
        ("…", "..."),
        ("–", "-"),
        ("—", "-"),
        ("→", "->"),
        ("←", "<-"),
        ("×", "x"),
        ("µ", "u"),
        ("·", "."),
        ("≥", ">="),
        ("≤", "<="),
    ];
    PLAIN.iter().fold(text.to_owned(), |text, (ours, plain)| text.replace(ours, plain))
}

/// Whether a redirected text is written plainly.
pub(super) const REDIRECTED_PLAIN: bool = cfg!(windows);

/// Whether the program was started by a double click: nothing was typed, and the desktop started
/// it.
pub(super) fn double_clicked(words: usize, started_by: Option<&str>) -> bool {
    words <= 1 && started_by.is_some_and(|name| name.eq_ignore_ascii_case("explorer.exe"))
}

/// Name of the program that started this one.
#[cfg(windows)]
pub(super) fn started_by() -> Option<String> {
    use sysinfo::{ProcessesToUpdate, System};
    let mut system = System::new();
    system.refresh_processes(ProcessesToUpdate::All, false);
    let parent = system.process(sysinfo::get_current_pid().ok()?)?.parent()?;
    Some(system.process(parent)?.name().to_string_lossy().into_owned())
}

/// Elsewhere a double click on a program opens no window anybody could read in.
#[cfg(not(windows))]
pub(super) fn started_by() -> Option<String> {
    None
}

/// Keeps the window open until it was read: it closes with the program.
pub(super) fn wait_to_be_read() {
    super::say("press Enter to close this window.");
    let _ = std::io::stdin().read_line(&mut String::new());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pattern_is_every_file_that_fits_by_name_and_anything_else_stays() {
        let folder = tempfile::tempdir().expect("a folder");
        let at = |name: &str| folder.path().join(name);
        for name in ["b.csv", "a.csv", "c.txt", "odd [1].csv"] {
            std::fs::write(at(name), "1").expect("a file");
        }
        let all = [at("a.csv"), at("b.csv"), at("odd [1].csv")];
        assert_eq!(expanded(vec![at("*.csv")]), all);
        let kept = vec![at("odd [1].csv"), at("none*.csv"), PathBuf::from("-")];
        assert_eq!(expanded(kept.clone()), kept);
    }

    #[test]
    fn redirected_text_has_no_sign_that_another_encoding_lacks() {
        assert_eq!(plain("19.5° late ± 1.0° “B2”"), "19.5 deg late +/- 1.0 deg \"B2\"");
        assert_eq!(plain("Nockenwelle Einlaß"), "Nockenwelle Einlaß");
    }

    #[test]
    fn only_a_start_from_the_desktop_with_nothing_typed_is_a_double_click() {
        assert!(double_clicked(1, Some("Explorer.EXE")));
        let typed = [(2, Some("explorer.exe")), (1, Some("cmd.exe")), (1, None)];
        assert!(typed.iter().all(|(words, by)| !double_clicked(*words, *by)));
    }
}
