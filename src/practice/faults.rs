//! Faults a class can be given, as words on the command line and as values.

use std::fmt;
use std::str::FromStr;

use super::clamp::ClampTrouble;

/// Scatter of a phaser that wanders, in crank degrees, where the words give no number.
const WANDER_DEG: f64 = 2.0;

/// Most strikes of a coil at one event.
pub(super) const MOST_STRIKES: usize = 8;

/// One fault. Angles are crank degrees, positive late.
#[derive(Debug, Clone, PartialEq)]
pub enum Fault {
    /// A chain skipped so many teeth on the sprocket of a shaft.
    Skip {
        /// The shaft whose sprocket lost its place.
        shaft: String,
        /// The chain.
        chain: String,
        /// Teeth, positive late.
        teeth: i32,
    },
    /// A chain grown longer: everything it drives is late, and swings a little; where the order of
    /// its sprockets is known, each strand adds so much to those before it.
    Wear {
        /// The chain.
        chain: String,
        /// How late, positive; of each strand where the order is known.
        degrees: f64,
    },
    /// One strand of a chain whose order is known: what lies beyond it is late, and swings a
    /// little.
    WornStrand {
        /// The chain.
        chain: String,
        /// Which strand, from 1 at the driver along the pull.
        strand: usize,
        /// How late, positive.
        degrees: f64,
    },
    /// A phaser away from its rest position.
    Phaser {
        /// The cam.
        cam: String,
        /// Where it stands.
        degrees: f64,
        /// Standard deviation of its wandering; 0 for one that holds still.
        wander: f64,
    },
    /// The crank's wheel sits late on the shaft: every cam reads that much early.
    CrankWheel {
        /// How late.
        degrees: f64,
    },
    /// A cam's sensor wheel slipped on its shaft; the valves have not moved.
    CamWheel {
        /// The cam.
        cam: String,
        /// How late.
        degrees: f64,
    },
    /// A tooth of a cam's wheel with its trailing end broken away or bent.
    DamagedTooth {
        /// The cam.
        cam: String,
        /// Which tooth, counted from 1 in the order of the wheel.
        tooth: usize,
    },
    /// A cylinder that leaks.
    WeakCylinder {
        /// The cylinder.
        cylinder: u32,
        /// Share of its sound compression that is left, 0 to 1.
        left: f64,
    },
    /// A cylinder whose valve hangs open: it compresses nothing.
    DeadCylinder {
        /// The cylinder.
        cylinder: u32,
    },
    /// A cylinder that traps less than the others and does not leak.
    StarvedCylinder {
        /// The cylinder.
        cylinder: u32,
        /// Share of the usual charge it traps, above 0 to 1.
        left: f64,
    },
    /// A coil that strikes several times at each event, as some systems do while cranking.
    MultiSpark {
        /// The coil's lead.
        lead: String,
        /// How many times.
        strikes: usize,
    },
    /// A coil that sparks every turn, for its cylinder and the one a turn later.
    WasteSpark {
        /// The coil's lead.
        lead: String,
    },
    /// Trouble with the clamp on the starter's cable.
    Clamp(ClampTrouble),
    /// Two leads plugged into each other's places.
    CrossedLeads {
        /// One lead.
        first: String,
        /// The other.
        second: String,
    },
    /// A lead connected the wrong way round.
    Reversed {
        /// The lead.
        lead: String,
    },
    /// A battery that falls further than usual when the starter engages, and every level fed from
    /// it with it.
    WeakBattery {
        /// What it falls to.
        volts: f64,
    },
    /// A square-wave lead with a habit that is not its wheel's.
    Trap {
        /// The habit.
        trap: Trap,
        /// The lead.
        lead: String,
    },
    /// A tooth of the crank wheel that is not there.
    MissingTooth {
        /// Slot number of a wheel given as slots, tooth number otherwise, from 1.
        tooth: usize,
    },
}

/// Habits of square-wave leads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trap {
    /// Some edges come, go and come again within microseconds.
    Bounce,
    /// Short pulses at every spark.
    Crosstalk,
    /// Each fall comes right after its rise or right before the next, now the one, now the other.
    Flipping,
}

impl Trap {
    const ALL: [Trap; 3] = [Trap::Bounce, Trap::Crosstalk, Trap::Flipping];

    fn word(self) -> &'static str {
        match self {
            Trap::Bounce => "bounce",
            Trap::Crosstalk => "crosstalk",
            Trap::Flipping => "flipping-output",
        }
    }
}

/// Every fault's words with what they mean, for help and messages.
pub const FAULT_WORDS: &[(&str, &str)] = &[
    ("skip:SHAFT@CHAIN:+N", "chain skipped N teeth on that sprocket (+ late, - early)"),
    (
        "wear:CHAIN:DEG",
        "worn chain: all it drives is DEG crank degrees late and swings; with order = \"pulled\" each strand adds DEG",
    ),
    (
        "worn-strand:CHAIN:N:DEG",
        "strand N of a chain with order = \"pulled\", from 1 at the driver: what lies beyond it is DEG late",
    ),
    (
        "phaser:CAM:DEG[:wander]",
        "phaser off its rest stop; wander, or wander degrees, makes it move",
    ),
    ("crank-wheel:DEG", "crank wheel late on its shaft"),
    ("cam-wheel:CAM:DEG", "sensor wheel of a cam slipped, valves in place"),
    ("damaged-tooth:CAM:K", "tooth K of a cam's wheel damaged"),
    ("weak-cylinder:N:LEFT", "cylinder N leaks: LEFT of its compression is left, 0 to 1"),
    ("dead-cylinder:N", "a valve of cylinder N hangs open: it compresses nothing"),
    ("starved-cylinder:N:LEFT", "cylinder N traps LEFT of the usual charge, and does not leak"),
    ("multi-spark:LEAD:N", "a coil strikes N times at each event, as some do while cranking"),
    ("waste-spark:LEAD", "a coil sparks every turn, for two cylinders"),
    ("clamp-offset:AMPS", "the clamp was not zeroed: it reads AMPS without a current"),
    ("clamp-slow:HZ", "the clamp is slow: a low pass of HZ"),
    ("clamp-ac:HZ", "the clamp's input is AC-coupled: a high pass of HZ"),
    ("clamp-clipped:AMPS", "the scope's range for the clamp ends at AMPS"),
    ("clamp-volts:AMPS", "the clamp is recorded in volts, AMPS to each"),
    ("crossed-leads:LEAD:LEAD", "two leads plugged the wrong way about"),
    ("reversed:LEAD", "a lead with its two wires swapped"),
    ("missing-tooth:K", "tooth K of the crank wheel broken off"),
    ("bounce:LEAD", "edges of a square-wave lead come, go and come again within microseconds"),
    ("crosstalk:LEAD", "a square-wave lead picks up short pulses at every spark"),
    ("flipping-output:LEAD", "a square wave falls just after its rise or just before the next"),
    (
        "weak-battery:VOLTS",
        "battery falls to VOLTS when the starter engages, levels fed from it too",
    ),
];

impl fmt::Display for Fault {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Fault::Skip { shaft, chain, teeth } => write!(out, "skip:{shaft}@{chain}:{teeth:+}"),
            Fault::Wear { chain, degrees } => write!(out, "wear:{chain}:{degrees}"),
            Fault::WornStrand { chain, strand, degrees } => {
                write!(out, "worn-strand:{chain}:{strand}:{degrees}")
            }
            Fault::Phaser { cam, degrees, wander: 0.0 } => write!(out, "phaser:{cam}:{degrees}"),
            Fault::Phaser { cam, degrees, wander } => {
                write!(out, "phaser:{cam}:{degrees}:{wander}")
            }
            Fault::CrankWheel { degrees } => write!(out, "crank-wheel:{degrees}"),
            Fault::CamWheel { cam, degrees } => write!(out, "cam-wheel:{cam}:{degrees}"),
            Fault::DamagedTooth { cam, tooth } => write!(out, "damaged-tooth:{cam}:{tooth}"),
            Fault::WeakCylinder { cylinder, left } => {
                write!(out, "weak-cylinder:{cylinder}:{left}")
            }
            Fault::DeadCylinder { cylinder } => write!(out, "dead-cylinder:{cylinder}"),
            Fault::StarvedCylinder { cylinder, left } => {
                write!(out, "starved-cylinder:{cylinder}:{left}")
            }
            Fault::MultiSpark { lead, strikes } => write!(out, "multi-spark:{lead}:{strikes}"),
            Fault::WasteSpark { lead } => write!(out, "waste-spark:{lead}"),
            Fault::Clamp(trouble) => write!(out, "{trouble}"),
            Fault::CrossedLeads { first, second } => write!(out, "crossed-leads:{first}:{second}"),
            Fault::Reversed { lead } => write!(out, "reversed:{lead}"),
            Fault::MissingTooth { tooth } => write!(out, "missing-tooth:{tooth}"),
            Fault::Trap { trap, lead } => write!(out, "{}:{lead}", trap.word()),
            Fault::WeakBattery { volts } => write!(out, "weak-battery:{volts}"),
        }
    }
}

/// Why words are no fault.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the fault \"{words}\" cannot be read: {what}. Write it like {like}")]
pub struct FaultWordsError {
    words: String,
    what: String,
    like: String,
}

impl FromStr for Fault {
    type Err = FaultWordsError;

    fn from_str(words: &str) -> Result<Self, Self::Err> {
        let (kind, rest) = words.split_once(':').unwrap_or((words, ""));
        let reader = Reader { words, kind: kind.trim(), rest: rest.trim() };
        match reader.kind {
            "skip" => {
                let (place, teeth) = reader.two()?;
                let Some((shaft, chain)) = place.rsplit_once('@') else {
                    return reader.refuse("there is no @ between shaft and chain".into());
                };
                let teeth = reader.number::<i32>(teeth, "a whole number of teeth")?;
                if teeth == 0 {
                    return reader.refuse("a skip of 0 teeth is none".into());
                }
                let (shaft, chain) = (shaft.trim().to_owned(), chain.trim().to_owned());
                Ok(Fault::Skip { shaft, chain, teeth })
            }
            "wear" => {
                let (chain, degrees) = reader.two()?;
                Ok(Fault::Wear { chain, degrees: reader.degrees(degrees)? })
            }
            "worn-strand" => {
                let (place, degrees) = reader.two()?;
                let Some((chain, strand)) = place.rsplit_once(':') else {
                    return reader.refuse("something is missing after a colon".into());
                };
                let strand = reader.number(strand, "the number of a strand")?;
                let (chain, degrees) = (chain.trim().to_owned(), reader.degrees(degrees)?);
                Ok(Fault::WornStrand { chain, strand, degrees })
            }
            "phaser" => reader.phaser(),
            "crank-wheel" => Ok(Fault::CrankWheel { degrees: reader.degrees(reader.rest)? }),
            "cam-wheel" => {
                let (cam, degrees) = reader.two()?;
                Ok(Fault::CamWheel { cam, degrees: reader.degrees(degrees)? })
            }
            "damaged-tooth" => {
                let (cam, tooth) = reader.two()?;
                Ok(Fault::DamagedTooth { cam, tooth: reader.number(tooth, "a tooth number")? })
            }
            "weak-cylinder" => {
                let (cylinder, left) = reader.two()?;
                let cylinder = reader.number(&cylinder, "a cylinder number")?;
                Ok(Fault::WeakCylinder { cylinder, left: reader.degrees(left)? })
            }
            "dead-cylinder" => Ok(Fault::DeadCylinder {
                cylinder: reader.number(reader.rest, "a cylinder number")?,
            }),
            "starved-cylinder" => {
                let (cylinder, left) = reader.two()?;
                let cylinder = reader.number(&cylinder, "a cylinder number")?;
                Ok(Fault::StarvedCylinder { cylinder, left: reader.degrees(left)? })
            }
            "multi-spark" => {
                let (lead, strikes) = reader.two()?;
                let strikes = reader.number(strikes, "a number of strikes")?;
                Ok(Fault::MultiSpark { lead, strikes })
            }
            "waste-spark" if !reader.rest.is_empty() => {
                Ok(Fault::WasteSpark { lead: reader.rest.to_owned() })
            }
            "crossed-leads" => {
                let (first, second) = reader.two()?;
                Ok(Fault::CrossedLeads { first, second: second.to_owned() })
            }
            "reversed" if !reader.rest.is_empty() => {
                Ok(Fault::Reversed { lead: reader.rest.to_owned() })
            }
            "weak-battery" => Ok(Fault::WeakBattery { volts: reader.degrees(reader.rest)? }),
            "missing-tooth" => {
                Ok(Fault::MissingTooth { tooth: reader.number(reader.rest, "a tooth number")? })
            }
            word if ClampTrouble::FORMS.iter().any(|(form, ..)| *form == word) => {
                let size = reader.degrees(reader.rest)?;
                match ClampTrouble::of(word, size) {
                    Some(trouble) => Ok(Fault::Clamp(trouble)),
                    None => reader.refuse("no fault is called that".into()),
                }
            }
            word => match Trap::ALL.into_iter().find(|trap| trap.word() == word) {
                Some(trap) if !reader.rest.is_empty() => {
                    Ok(Fault::Trap { trap, lead: reader.rest.to_owned() })
                }
                _ => reader.refuse("no fault is called that, or it is not finished".into()),
            },
        }
    }
}

/// The words of one fault while they are being read.
struct Reader<'a> {
    words: &'a str,
    kind: &'a str,
    rest: &'a str,
}

impl<'a> Reader<'a> {
    fn refuse<T>(&self, what: String) -> Result<T, FaultWordsError> {
        let known = FAULT_WORDS.iter().find(|(form, _)| form.split(':').next() == Some(self.kind));
        let like = known.map_or_else(
            || FAULT_WORDS.iter().map(|(form, _)| *form).collect::<Vec<_>>().join(", "),
            |(form, _)| (*form).to_owned(),
        );
        Err(FaultWordsError { words: self.words.to_owned(), what, like })
    }

    /// Splits at the last colon, because a name may have colons of its own.
    fn two(&self) -> Result<(String, &'a str), FaultWordsError> {
        match self.rest.rsplit_once(':') {
            Some((name, value)) if !name.trim().is_empty() && !value.trim().is_empty() => {
                Ok((name.trim().to_owned(), value.trim()))
            }
            _ => self.refuse("something is missing after a colon".into()),
        }
    }

    fn number<T: FromStr>(&self, text: &str, what: &str) -> Result<T, FaultWordsError> {
        match text.trim().parse() {
            Ok(number) => Ok(number),
            Err(_) => self.refuse(format!("\"{text}\" is not {what}")),
        }
    }

    fn degrees(&self, text: &str) -> Result<f64, FaultWordsError> {
        let number: f64 = self.number(text, "a number")?;
        if number.is_finite() { Ok(number) } else { self.refuse(format!("\"{text}\" is no size")) }
    }

    fn phaser(&self) -> Result<Fault, FaultWordsError> {
        let (before, last) = self.two()?;
        if last.eq_ignore_ascii_case("wander") {
            return self.moved_phaser(&before, WANDER_DEG);
        }
        let last = self.degrees(last)?;
        // With two numbers at the end the second is the wandering.
        match before.rsplit_once(':') {
            Some((_, degrees)) if degrees.trim().parse::<f64>().is_ok() => {
                self.moved_phaser(&before, last.abs())
            }
            _ => Ok(Fault::Phaser { cam: before, degrees: last, wander: 0.0 }),
        }
    }

    fn moved_phaser(&self, before: &str, wander: f64) -> Result<Fault, FaultWordsError> {
        let Some((cam, degrees)) = before.rsplit_once(':') else {
            return self.refuse("the degrees are missing".into());
        };
        Ok(Fault::Phaser { cam: cam.trim().to_owned(), degrees: self.degrees(degrees)?, wander })
    }
}

#[cfg(test)]
mod tests;
