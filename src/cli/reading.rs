//! How a capture is read: options that every command has that reads one.

use clap::{Args, ValueEnum};

use super::Failure;
use crate::capture::{CaptureKind, ReadOptions, TimeUnit};
use crate::leads::LeadRequest;
use crate::units::Seconds;

/// How captures are read; shared by every command that reads one.
#[derive(Debug, Clone, Args)]
pub struct ReadingArgs {
    /// Which column carries what, by header text or position from 1, time included: "crank=Channel
    /// 1", "B1 intake=3", "starter=Channel 4:100A/V". Of several files one is named before the
    /// lead: "run1.csv:crank=Channel 1"; or the leads stand in the order of the files
    #[arg(long = "lead", value_name = "LEAD=COLUMN")]
    pub leads: Vec<LeadRequest>,
    /// Use the capture from this second on
    #[arg(long, value_name = "S", allow_negative_numbers = true)]
    pub from: Option<f64>,
    /// Use the capture up to this second
    #[arg(long, value_name = "S", allow_negative_numbers = true)]
    pub to: Option<f64>,
    /// Samples per second, for a file without a time column
    #[arg(long, value_name = "RATE")]
    pub rate: Option<f64>,
    /// The column of the times, by header text or position, where the file calls it something else
    #[arg(long, value_name = "COLUMN")]
    pub time: Option<String>,
    /// The character between cells, where the file leaves it open: comma, semicolon, tab, pipe or
    /// blanks
    #[arg(long, value_name = "WORD")]
    pub separator: Option<SeparatorArg>,
    /// The decimal mark, where the file leaves it open: point or comma
    #[arg(long, value_name = "WORD")]
    pub decimal: Option<DecimalArg>,
    /// Unit of the time column, where the file leaves it open
    #[arg(long, value_name = "UNIT")]
    pub time_unit: Option<TimeUnitArg>,
    /// What the rows are, where the data leave it open
    #[arg(long, value_name = "WORD")]
    pub kind: Option<KindArg>,
}

/// Words of `--separator`.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum SeparatorArg {
    /// `,`
    Comma,
    /// `;`
    Semicolon,
    /// A tab
    Tab,
    /// `|`
    Pipe,
    /// Columns aligned by blanks
    Blanks,
}

/// Words of `--decimal`.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum DecimalArg {
    /// `.`
    Point,
    /// `,`
    Comma,
}

/// Words of `--time-unit`.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum TimeUnitArg {
    /// Seconds
    S,
    /// Milliseconds
    Ms,
    /// Microseconds
    Us,
    /// Nanoseconds
    Ns,
}

/// Words of `--kind`.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum KindArg {
    /// A row per tick
    Sampled,
    /// A row per change
    Events,
}

impl ReadingArgs {
    /// The options as the reader takes them.
    ///
    /// # Errors
    /// A range that is empty, or numbers that are none.
    pub fn options(&self) -> Result<ReadOptions, Failure> {
        let finite = |value: Option<f64>| value.is_none_or(f64::is_finite);
        if !finite(self.from) || !finite(self.to) {
            return Err(Failure(
                "--from and --to take seconds of the capture. Give finite numbers".into(),
            ));
        }
        if let (Some(from), Some(to)) = (self.from, self.to)
            && from >= to
        {
            return Err(Failure(format!(
                "--from {from} is not before --to {to}. Give a range of seconds"
            )));
        }
        if self.rate.is_some_and(|rate| !(rate.is_finite() && rate > 0.0)) {
            return Err(Failure("--rate takes samples per second. Give a number above 0".into()));
        }
        Ok(ReadOptions {
            from: self.from.map(Seconds),
            to: self.to.map(Seconds),
            rate: self.rate,
            time: self.time.clone(),
            separator: self.separator.map(|separator| match separator {
                SeparatorArg::Comma => ',',
                SeparatorArg::Semicolon => ';',
                SeparatorArg::Tab => '\t',
                SeparatorArg::Pipe => '|',
                SeparatorArg::Blanks => ' ',
            }),
            decimal: self.decimal.map(|decimal| match decimal {
                DecimalArg::Point => '.',
                DecimalArg::Comma => ',',
            }),
            time_unit: self.time_unit.map(|unit| match unit {
                TimeUnitArg::S => TimeUnit::Seconds,
                TimeUnitArg::Ms => TimeUnit::Milliseconds,
                TimeUnitArg::Us => TimeUnit::Microseconds,
                TimeUnitArg::Ns => TimeUnit::Nanoseconds,
            }),
            force_kind: self.kind.map(|kind| match kind {
                KindArg::Sampled => CaptureKind::Sampled,
                KindArg::Events => CaptureKind::Events,
            }),
            ..ReadOptions::default()
        })
    }

    /// The options as the command line takes them, so that a capture can be read again as it was.
    pub(super) fn words(&self) -> Vec<String> {
        fn value(of: impl ValueEnum) -> String {
            of.to_possible_value().map(|value| value.get_name().to_owned()).unwrap_or_default()
        }
        let mut words = Vec::new();
        let mut add = |option: &str, value: Option<String>| {
            words.extend(value.map(|value| format!("{option}={value}")));
        };
        for lead in &self.leads {
            let scale = lead.amperes_per_volt.map_or(String::new(), |scale| format!(":{scale}A/V"));
            add("--lead", Some(format!("{}={}{scale}", lead.name, lead.column)));
        }
        add("--from", self.from.map(|at| at.to_string()));
        add("--to", self.to.map(|at| at.to_string()));
        add("--rate", self.rate.map(|rate| rate.to_string()));
        add("--time", self.time.clone());
        add("--separator", self.separator.map(value));
        add("--decimal", self.decimal.map(value));
        add("--time-unit", self.time_unit.map(value));
        add("--kind", self.kind.map(value));
        words
    }
}

#[cfg(test)]
mod tests {
    use clap::Parser;

    use super::*;

    #[derive(Parser)]
    #[command(no_binary_name = true)]
    struct Line {
        #[command(flatten)]
        reading: ReadingArgs,
    }

    #[test]
    fn options_read_back_as_they_were_given() {
        let words = [
            "--lead=crank=Channel 1",
            "--lead=starter=Channel 4:60A/V",
            "--from=-0.5",
            "--to=2.25",
            "--rate=20000",
            "--time=t / s",
            "--separator=semicolon",
            "--decimal=comma",
            "--time-unit=ms",
            "--kind=events",
        ];
        let read = Line::try_parse_from(words).expect("options").reading;
        assert_eq!(read.words(), words);
        assert!(Line::try_parse_from([""; 0]).expect("none").reading.words().is_empty());
    }

    /// What the page keeps of a job is read by these commands.
    #[cfg(feature = "page-service")]
    #[test]
    fn words_of_the_page_are_these() {
        use crate::page::service::Reading;
        let lead = |text: &str| text.parse::<LeadRequest>().expect("a lead");
        let reading = Reading {
            rate: "20000".into(),
            time: "t / s".into(),
            separator: "semicolon".into(),
            decimal: "comma".into(),
            time_unit: "ms".into(),
            kind: "events".into(),
        };
        let leads = [lead("crank=Channel 1"), lead("starter=Channel 4:60A/V")];
        let stretch = (Some(-0.5), Some(2.25));
        let words = reading.words(&leads, stretch);
        assert_eq!(words.len(), 10);
        let read = Line::try_parse_from(&words).expect("options").reading;
        assert_eq!(read.words(), words);
        let (again, asked, part) = Reading::of_words(&words).expect("its own words");
        assert_eq!((again, asked.as_slice(), part), (reading, &leads[..], stretch));
        assert!(Reading::of_words(&["--unknown=1".to_owned()]).is_none());
    }
}
