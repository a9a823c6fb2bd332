//! `camwitness verify`: is a report of this capture, and is the same found again?

use std::io::Read;
use std::path::{Path, PathBuf};

use clap::Args;

use super::{CANNOT_TELL, DONE, Failure, Job};
use crate::analysis::check;
use crate::capture::{Capture, read};
use crate::checksum::Checksum;
use crate::error::FileError;
use crate::output::{Files, ReadAs};
use crate::report::evidence::{CaptureText, Evidence};
use crate::report::html::{Sealed, sealed};
use crate::report::words::VERSION;

/// Options of `verify`.
#[derive(Debug, Args)]
pub struct VerifyArgs {
    /// A report as `check --report` or the page wrote it
    #[arg(value_name = "REPORT.html")]
    report: PathBuf,
    /// The captures it should be of, all of them
    #[arg(required = true, value_name = "CAPTURE")]
    captures: Vec<PathBuf>,
}

impl Job for VerifyArgs {
    fn files(&self) -> Files {
        Files::default()
            .reads_all(ReadAs::Report, [&self.report])
            .reads_all(ReadAs::Capture, &self.captures)
    }

    fn run(&self) -> Result<(String, u8), Failure> {
        let page = report_text(&self.report)?;
        let shown = self.report.display();
        let evidence = match sealed(&page) {
            Sealed::Whole(evidence) => Evidence::parse(evidence)
                .map_err(|error| Failure(format!("{shown}: {error}. Ask for the report anew")))?,
            Sealed::Changed => {
                let text = format!(
                    "{shown}: NOT as it was written. Something in it was changed since, so it is held against nothing.\n\
                     Ask whoever wrote it for the file itself: a report that a browser or an editor saved again is changed too.\n"
                );
                return Ok((text, CANNOT_TELL));
            }
            Sealed::NoReport => {
                return Err(Failure(format!(
                    "{shown}: this is no report of `check`, or one of a version that carried no evidence. Give the HTML file that `check --report` wrote"
                )));
            }
        };
        let mut said = format!("{shown}: as it was written, by Camwitness {}.\n", evidence.version);
        let Some(in_order) = of_these(&evidence, &self.captures, &mut said)? else {
            return Ok((said, CANNOT_TELL));
        };
        let same = found_again(&evidence, &in_order, &mut said)?;
        Ok((said, if same { DONE } else { CANNOT_TELL }))
    }
}

/// Longest report that is read: a hundred times what one of a usual capture takes.
const MOST_BYTES: u64 = 300_000_000;

fn report_text(path: &Path) -> Result<String, Failure> {
    let cannot = |source| FileError {
        path: path.to_owned(),
        doing: "read",
        source,
        advice: "Give the HTML file that `check --report` wrote".into(),
    };
    let mut text = String::new();
    let file = std::fs::File::open(path).map_err(cannot)?;
    file.take(MOST_BYTES).read_to_string(&mut text).map_err(cannot)?;
    Ok(text)
}

/// The captures in the report's order, where they are those of the report; says so, or why not.
fn of_these<'a>(
    evidence: &'a Evidence,
    given: &'a [PathBuf],
    said: &mut String,
) -> Result<Option<Vec<(&'a CaptureText, &'a PathBuf)>>, Failure> {
    let mut open: Vec<&CaptureText> = evidence.captures.iter().collect();
    let mut matched = Vec::new();
    let mut strange = false;
    for path in given {
        let sum = checksum(path)?;
        match open.iter().position(|one| one.sha256.as_deref() == Some(&sum)) {
            Some(at) => {
                *said +=
                    &format!("{}: the capture of this report (SHA-256 {sum}).\n", path.display());
                matched.push((open.remove(at), path));
            }
            None => {
                strange = true;
                let name = path.file_name().unwrap_or_default().to_string_lossy();
                let why = match evidence.captures.iter().find(|one| one.file == name) {
                    Some(_) => {
                        "it has the name of the report's capture, but it was changed since or is another file"
                    }
                    None => "another file",
                };
                *said += &format!(
                    "{}: NOT a capture of this report: {why} (SHA-256 {sum}).\n",
                    path.display()
                );
            }
        }
    }
    for one in &open {
        let sum = one.sha256.as_deref().unwrap_or("not taken down");
        *said += &format!("Not given: {} of the report (SHA-256 {sum}).\n", one.file);
    }
    if strange || !open.is_empty() {
        *said += "Whether the same is found again was not tried.\n";
        return Ok(None);
    }
    let place = |text: &CaptureText| evidence.captures.iter().position(|one| one == text);
    matched.sort_by_key(|(text, _)| place(text));
    Ok(Some(matched))
}

fn checksum(path: &Path) -> Result<String, Failure> {
    /// Large enough for a disk, small beside a capture.
    const PIECE: usize = 1 << 20;
    let cannot = |source| FileError {
        path: path.to_owned(),
        doing: "read",
        source,
        advice: "Check its name and that it may be read".into(),
    };
    let mut file = std::fs::File::open(path).map_err(cannot)?;
    let (mut sum, mut piece) = (Checksum::default(), vec![0; PIECE]);
    loop {
        match file.read(&mut piece).map_err(cannot)? {
            0 => return Ok(sum.hex()),
            count => sum.take(&piece[..count]),
        }
    }
}

/// Measures again as the report was measured; says whether the same came of it.
fn found_again(
    evidence: &Evidence,
    captures: &[(&CaptureText, &PathBuf)],
    said: &mut String,
) -> Result<bool, Failure> {
    let read_again = |(text, path): &(&CaptureText, &PathBuf)| -> Result<Capture, Failure> {
        let capture = read(path, &text.asked.options())?;
        // Renamed since or not, the result calls it as the report does.
        Ok(Capture { source: text.file.clone(), ..capture })
    };
    let read: Vec<Capture> = captures.iter().map(read_again).collect::<Result<_, _>>()?;
    let folder = tempfile::tempdir()
        .map_err(|error| Failure(format!("no temporary folder can be made: {error}")))?;
    let told = |error| Failure(format!("the report's own description: {error}"));
    let engine = evidence.engine(folder.path()).map_err(told)?;
    let options = evidence.options(&engine).map_err(told)?;
    let differ = evidence.differences(&check(&read, &engine, &options)?);
    let version = evidence.version == VERSION;
    *said += &match (differ.is_empty(), version) {
        (true, true) => "Found again: the same finding and the same figures.\n".to_owned(),
        (true, false) => format!(
            "Found again, but by another version: this is Camwitness {VERSION}. For the proof use the version that wrote it.\n"
        ),
        (false, same) => {
            let by = match same {
                true => "The same version".to_owned(),
                false => format!("Another version, Camwitness {VERSION},"),
            };
            format!("NOT found again. {by} finds otherwise in: {}.\n", differ.join(", "))
        }
    };
    Ok(differ.is_empty() && version)
}
