//! The checksum of a report over its own content: who has changed a letter of it is found out.
//!
//! It is no signature. Whoever sets out to forge a report can work the checksum out anew; what he
//! cannot do is make a capture show something else.

use crate::checksum::sha256;

/// What stands before and after the checksum.
const BEFORE: &str = "<meta name=\"camwitness-checksum\" content=\"";
const AFTER: &str = "\">";
/// What stands in its place while it is worked out.
const OPEN: &str = "0000000000000000000000000000000000000000000000000000000000000000";

/// Where the evidence stands in a report.
const EVIDENCE: &str = "<script type=\"application/json\" id=\"evidence\">";

/// The open place in the head of a report.
pub(super) fn place() -> String {
    format!("{BEFORE}{OPEN}{AFTER}")
}

/// Puts the checksum into its place.
pub(super) fn close(page: &str) -> String {
    let sum = sha256(page.as_bytes());
    page.replacen(&place(), &format!("{BEFORE}{sum}{AFTER}"), 1)
}

/// How a file looks that should be a report.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sealed<'a> {
    /// As it was written; with the evidence it carries.
    Whole(&'a str),
    /// Something in it is not as it was written.
    Changed,
    /// No report, or one without evidence.
    NoReport,
}

/// Looks whether a report is as it was written.
#[must_use]
pub fn sealed(page: &str) -> Sealed<'_> {
    let Some(at) = page.find(BEFORE).map(|at| at + BEFORE.len()) else { return Sealed::NoReport };
    let Some(sum) = page.get(at..at + OPEN.len()) else { return Sealed::NoReport };
    let Some(evidence) = evidence(page) else { return Sealed::NoReport };
    let open = format!("{}{OPEN}{}", &page[..at], &page[at + OPEN.len()..]);
    match sha256(open.as_bytes()) == sum {
        true => Sealed::Whole(evidence),
        false => Sealed::Changed,
    }
}

fn evidence(page: &str) -> Option<&str> {
    let (_, from) = page.split_once(EVIDENCE)?;
    Some(from.split_once("</script>")?.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_changed_letter_is_found_out() {
        let page = format!("<head>{}</head>{EVIDENCE}{{}}</script><p>late</p>", place());
        let page = close(&page);
        assert_eq!(sealed(&page), Sealed::Whole("{}"));
        assert_eq!(sealed(&page.replace("late", "fine")), Sealed::Changed);
        assert_eq!(sealed(&page.replace("</p>", "</p>\n")), Sealed::Changed);
        assert_eq!(sealed("<html></html>"), Sealed::NoReport);
        assert_eq!(sealed(&page[..90]), Sealed::NoReport);
        assert_eq!(sealed(&format!("{BEFORE}ü{AFTER}{EVIDENCE}</script>")), Sealed::NoReport);
    }
}
