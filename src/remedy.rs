//! What would mend an error. The library says what is wrong and where, and carries a [`Remedy`];
//! whoever stands in front of a user puts it into the words of that place: the command line names
//! its options, the page its fields, a program takes the variant.

use std::borrow::Cow;
use std::fmt;

/// One thing that would mend an error.
///
/// Its [`Display`](fmt::Display) is a clause that names no front's option or field: "give the
/// channels of the scope, 2 to 16".
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Remedy {
    /// Something to do that is said in the same words everywhere. A clause, without its last stop;
    /// one that stands first may begin with a capital.
    Do(Cow<'static, str>),
    /// Give a setting. `value` is what it would take: "2 to 16", "0.07 or more"; empty where that
    /// is plain.
    Give {
        /// What is to be given.
        setting: Setting,
        /// What would do.
        value: Box<str>,
    },
    /// Give another value for a setting.
    Change(Setting),
    /// Leave a setting to the program.
    LeaveOut(Setting),
    /// See whether a setting, the name of a file or folder, is what it should be.
    Check(Setting),
    /// All of these together.
    All(Vec<Remedy>),
    /// Another remedy, for one case only.
    If {
        /// The case: "the decimal mark was taken wrongly".
        when: Cow<'static, str>,
        /// What would mend it then.
        then: Box<Remedy>,
    },
    /// Insist on it.
    Insist(Insistence),
    /// Do something that a front offers.
    Task(Task),
}

/// What a front offers to do, beside the work that ended in the error.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Task {
    /// Put an engine file on the shelf, which begins one where there is none.
    KeepEngine,
    /// See the jobs of the shelf.
    ListJobs,
    /// Name a wheel that there is.
    NameWheel,
}

impl Task {
    /// Every one of them, so that a front can be tested to have words for each.
    pub const ALL: [Task; 3] = [Task::KeepEngine, Task::ListJobs, Task::NameWheel];
}

impl fmt::Display for Task {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(match self {
            Task::KeepEngine => "put an engine on the shelf",
            Task::ListJobs => "look through the jobs of the shelf",
            Task::NameWheel => {
                "name a wheel of the library, or write N-M (M adjacent teeth missing) or N (even teeth)"
            }
        })
    }
}

/// What the caller of the library, or the user of a front, can set to a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Setting {
    /// Which column carries which lead: [`leads`](crate::analysis::Options::leads).
    Lead,
    /// Samples per second: of a capture without times, or of a practice capture.
    SampleRate,
    /// Unit of the times of a capture: [`time_unit`](crate::capture::ReadOptions::time_unit).
    TimeUnit,
    /// The column that carries the times.
    TimeColumn,
    /// Decimal mark of a text file: [`decimal`](crate::capture::ReadOptions::decimal).
    DecimalMark,
    /// What separates the cells of a text file:
    /// [`separator`](crate::capture::ReadOptions::separator).
    Separator,
    /// Whether rows are samples or changes:
    /// [`force_kind`](crate::capture::ReadOptions::force_kind).
    RowKind,
    /// First and last second of a capture that is used.
    Stretch,
    /// Length of a practice capture, seconds.
    Length,
    /// Swing of speed within a turn of a practice capture.
    Ripple,
    /// Scatter of the edges of a practice capture, crank degrees.
    Jitter,
    /// Seconds that the engine of a practice capture stands still at first.
    Standstill,
    /// Resolution of the scope of a practice capture, bits.
    Bits,
    /// Accuracy wanted of a plan, crank degrees.
    Accuracy,
    /// Cranking speed a plan or a practice capture is made for, revolutions per minute.
    CrankingSpeed,
    /// Channels of the scope a plan is made for.
    ScopeChannels,
    /// Port the page is served on.
    Port,
    /// The engine file.
    EngineFile,
    /// The job file of a report.
    JobFile,
    /// The folder pictures are written into.
    PicturesFolder,
    /// What an engine is called on the shelf.
    EngineName,
}

impl Setting {
    /// Every one of them, so that a front can be tested to have words for each.
    pub const ALL: [Setting; 21] = [
        Setting::Lead,
        Setting::SampleRate,
        Setting::TimeUnit,
        Setting::TimeColumn,
        Setting::DecimalMark,
        Setting::Separator,
        Setting::RowKind,
        Setting::Stretch,
        Setting::Length,
        Setting::Ripple,
        Setting::Jitter,
        Setting::Standstill,
        Setting::Bits,
        Setting::Accuracy,
        Setting::CrankingSpeed,
        Setting::ScopeChannels,
        Setting::Port,
        Setting::EngineFile,
        Setting::JobFile,
        Setting::PicturesFolder,
        Setting::EngineName,
    ];
}

impl fmt::Display for Setting {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(match self {
            Setting::Lead => "the column of each lead",
            Setting::SampleRate => "the samples per second",
            Setting::TimeUnit => "the unit of the times",
            Setting::TimeColumn => "the column of the times",
            Setting::DecimalMark => "the decimal mark",
            Setting::Separator => "the mark between cells",
            Setting::RowKind => "the kind of the rows",
            Setting::Stretch => "the first and the last second to use",
            Setting::Length => "the length in seconds",
            Setting::Ripple => "the swing of speed",
            Setting::Jitter => "the scatter of edges in crank degrees",
            Setting::Standstill => "the seconds before the starter engages",
            Setting::Bits => "the bits of the scope",
            Setting::Accuracy => "the accuracy in crank degrees",
            Setting::CrankingSpeed => "the cranking speed in rpm",
            Setting::ScopeChannels => "the channels of the scope",
            Setting::Port => "the port",
            Setting::EngineFile => "the name of the engine file",
            Setting::JobFile => "the name of the job file",
            Setting::PicturesFolder => "the name of the folder for the pictures",
            Setting::EngineName => "the name on the shelf",
        })
    }
}

/// What is done only when the user insists.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Insistence {
    /// Learn from a capture that looks faulty, or that disagrees with the others.
    AcceptFaulty,
    /// Take each capture as one of another engine.
    SeveralEngines,
    /// Compare in the order given.
    InOrder,
    /// Replace a file that is there.
    Replace,
}

impl Insistence {
    /// Every one of them, so that a front can be tested to have words for each.
    pub const ALL: [Insistence; 4] = [
        Insistence::AcceptFaulty,
        Insistence::SeveralEngines,
        Insistence::InOrder,
        Insistence::Replace,
    ];
}

impl fmt::Display for Insistence {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(match self {
            Insistence::AcceptFaulty => "accept it as it is",
            Insistence::SeveralEngines => "say that they are of several engines",
            Insistence::InOrder => "say that they are in order",
            Insistence::Replace => "have it replaced",
        })
    }
}

impl Remedy {
    /// Something to do that is said in the same words everywhere.
    pub fn to(what: impl Into<Cow<'static, str>>) -> Remedy {
        Remedy::Do(what.into())
    }

    /// Give a setting; what it takes is plain.
    #[must_use]
    pub fn give(setting: Setting) -> Remedy {
        Remedy::Give { setting, value: "".into() }
    }

    /// Give a setting this value, or one of these: "comma or point", "0.07 or more".
    pub fn set(setting: Setting, value: impl Into<String>) -> Remedy {
        Remedy::Give { setting, value: value.into().into() }
    }

    /// This remedy for one case only: "the decimal mark was taken wrongly".
    #[must_use]
    pub fn only_if(self, when: impl Into<Cow<'static, str>>) -> Remedy {
        Remedy::If { when: when.into(), then: Box::new(self) }
    }

    /// The setting that is to be given, changed or left out.
    #[must_use]
    pub fn setting(&self) -> Option<Setting> {
        match self {
            Remedy::Give { setting, .. }
            | Remedy::Change(setting)
            | Remedy::LeaveOut(setting)
            | Remedy::Check(setting) => Some(*setting),
            Remedy::All(all) => all.iter().find_map(Remedy::setting),
            Remedy::If { then, .. } => then.setting(),
            Remedy::Do(_) | Remedy::Insist(_) | Remedy::Task(_) => None,
        }
    }

    /// A condition before the words of what is to be done then.
    #[must_use]
    pub fn on_condition(when: &str, clause: &str) -> String {
        format!("if {when}, {clause}")
    }

    /// Clauses of which each is to be done; one said twice is said once.
    #[must_use]
    pub fn together(clauses: impl Iterator<Item = String>) -> String {
        let mut all: Vec<String> = clauses.collect();
        all.dedup();
        all.join(" and ")
    }
}

impl fmt::Display for Remedy {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Remedy::Do(what) => out.write_str(what),
            Remedy::Give { setting, value } if value.is_empty() => write!(out, "give {setting}"),
            Remedy::Give { setting: setting @ Setting::Lead, value } => {
                write!(out, "give {setting}: \"{value}\"")
            }
            Remedy::Give { setting, value } => write!(out, "give {setting}, {value}"),
            Remedy::Change(setting) => write!(out, "choose another value for {setting}"),
            Remedy::LeaveOut(setting) => write!(out, "leave {setting} open"),
            Remedy::Check(setting) => write!(out, "check {setting}"),
            Remedy::All(all) => {
                out.write_str(&Remedy::together(all.iter().map(ToString::to_string)))
            }
            Remedy::If { when, then } => {
                out.write_str(&Remedy::on_condition(when, &then.to_string()))
            }
            Remedy::Insist(on) => write!(out, "{on}"),
            Remedy::Task(task) => write!(out, "{task}"),
        }
    }
}

impl From<&'static str> for Remedy {
    fn from(what: &'static str) -> Remedy {
        Remedy::to(what)
    }
}

impl From<String> for Remedy {
    fn from(what: String) -> Remedy {
        Remedy::to(what)
    }
}

/// An error that carries what would mend it.
pub trait Mend {
    /// What is wrong and where, without a stop at its end and without a remedy.
    fn complaint(&self) -> String;

    /// What would mend it: any one of these. Empty where nobody knows.
    fn remedies(&self) -> Vec<Remedy>;

    /// Both, in words that fit every front.
    fn plain(&self) -> String {
        self.told(&|remedy| remedy.to_string())
    }

    /// Both, in the words of a front.
    fn told(&self, words: &dyn Fn(&Remedy) -> String) -> String {
        let clauses: Vec<String> = self.remedies().iter().map(words).collect();
        match joined(&clauses) {
            todo if todo.is_empty() => self.complaint(),
            todo => format!("{}. {todo}", self.complaint()),
        }
    }
}

/// Clauses as one sentence that begins with a capital: `One, or another; if this is so, a third`.
fn joined(clauses: &[String]) -> String {
    let mut text = String::new();
    for clause in clauses.iter().filter(|clause| !clause.is_empty()) {
        if text.is_empty() {
            let mut letters = clause.chars();
            text.extend(letters.next().into_iter().flat_map(char::to_uppercase).chain(letters));
        } else {
            text.push_str(if clause.starts_with("if ") { "; " } else { ", or " });
            text.push_str(clause);
        }
    }
    text
}

/// Makes errors that carry remedies into errors of the standard library, printed in words that fit
/// every front.
macro_rules! mended_errors {
    ($($error:ty),+) => {
        $(
            impl std::fmt::Display for $error {
                fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                    out.write_str(&$crate::remedy::Mend::plain(self))
                }
            }
            impl std::error::Error for $error {}
        )+
    };
}
pub(crate) use mended_errors;

#[cfg(test)]
mod tests {
    use super::*;

    struct Wrong(Vec<Remedy>);

    impl Mend for Wrong {
        fn complaint(&self) -> String {
            "c.csv, line 3: expected a number".into()
        }

        fn remedies(&self) -> Vec<Remedy> {
            self.0.clone()
        }
    }

    #[test]
    fn remedies_follow_their_complaint_in_the_words_of_the_front() {
        let insist = Remedy::Insist(Insistence::AcceptFaulty).only_if("it is sound");
        let accuracy = Remedy::Give { setting: Setting::Accuracy, value: "0.07 or more".into() };
        let rows = [
            (vec![], "c.csv, line 3: expected a number"),
            (vec![Remedy::to("écrit")], "c.csv, line 3: expected a number. Écrit"),
            (
                vec![Remedy::to("take one out"), Remedy::give(Setting::Lead), insist],
                "c.csv, line 3: expected a number. Take one out, or give the column of each lead; if it is sound, accept it as it is",
            ),
            (
                vec![Remedy::All(vec![Remedy::Check(Setting::JobFile), Remedy::to("ask")])],
                "c.csv, line 3: expected a number. Check the name of the job file and ask",
            ),
            (
                vec![accuracy],
                "c.csv, line 3: expected a number. Give the accuracy in crank degrees, 0.07 or more",
            ),
        ];
        for (remedies, want) in rows {
            assert_eq!(Wrong(remedies).told(&Remedy::to_string), want);
        }
        let wrong = Wrong(vec![Remedy::to("a"), Remedy::to("b")]);
        assert_eq!(wrong.told(&|_| String::new()), wrong.complaint(), "a front may have no words");
    }
}
