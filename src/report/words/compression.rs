//! The finding about compression in sentences.

use super::phrases::{list, percent};
use crate::compression::{Compression, NamedBy};
use crate::engine::{CamShaft, Engine};
use crate::verdict::{CompressionFinding, CompressionState, WhyWithheld};

/// What no relative measurement shows.
const ALL_ALIKE: &str = "All cylinders down alike cannot be seen this way.";

/// The word a result begins with.
#[must_use]
pub fn compression_title(finding: &CompressionFinding) -> &'static str {
    match finding.state {
        CompressionState::Even => "COMPRESSION EVEN",
        CompressionState::CylinderLow => "ONE CYLINDER LOW",
        CompressionState::NeighboursLow => "TWO NEIGHBOURS LOW",
        CompressionState::BankLow => "ONE BANK LOW",
        CompressionState::Uneven => "COMPRESSION UNEVEN",
        CompressionState::Withheld => "COMPRESSION NOT JUDGED",
    }
}

/// The finding for a technician: what is low, by how much, how sure, and what it may be.
#[must_use]
pub fn compression_finding(
    engine: &Engine,
    measured: Option<&Compression>,
    finding: &CompressionFinding,
) -> String {
    let sure = percent(finding.probability);
    let below = finding.below.map_or_else(String::new, |(share, (low, high))| {
        format!(
            "about {:.0} % below the rest (95 % sure between {:.0} and {:.0} %)",
            as_percent(share),
            as_percent(low),
            as_percent(high)
        )
    });
    match finding.state {
        CompressionState::Even => {
            format!("No cylinder stands out, with odds of {sure}. {ALL_ALIKE}")
        }
        CompressionState::CylinderLow => match finding.cylinders[..] {
            [cylinder] => format!(
                "Cylinder {cylinder} is {below}, with odds of {sure}: valves, rings or gasket of that cylinder. Its bank is not \
                 down as a whole, so this is not that bank's cam."
            ),
            _ => format!(
                "One cylinder, {}, is {below}, with odds of {sure}: valves, rings or gasket of that cylinder.",
                unnamed(measured, finding)
            ),
        },
        CompressionState::NeighboursLow => format!(
            "Cylinders {}, side by side, are {below}, with odds of {sure}: as a head gasket between the two would leave them.{}",
            list(&finding.cylinders.iter().map(ToString::to_string).collect::<Vec<_>>()),
            if is_a_bank(engine, &finding.cylinders) {
                " They are the whole of their bank: a cam that stands late lowers both, and both alike."
            } else {
                ""
            }
        ),
        CompressionState::BankLow => {
            let of_two = finding.agree.is_some_and(|(_, of)| of == 2);
            let gasket = if of_two {
                " A head gasket between its two cylinders would leave them so as well: a leak-down test tells."
            } else {
                ""
            };
            let bank = finding.bank.map_or_else(
                || "One bank, which one is not known,".to_owned(),
                |bank| format!("Bank {bank}"),
            );
            let agree = finding.agree.map_or_else(String::new, |(agree, of)| {
                format!(" {agree} of its {of} cylinders are below the other bank beyond noise.")
            });
            format!(
                "{bank} is down on compression, its cylinders alike, {below}, with odds of {sure}.{agree}{}{gasket}",
                as_if_late(finding)
            )
        }
        CompressionState::Uneven => {
            let low = lowest(measured);
            format!(
                "The cylinders differ without a pattern of one cylinder, two neighbours or a bank, with odds of {sure}.{low}"
            )
        }
        CompressionState::Withheld => withheld(engine, finding),
    }
}

/// Whether these are all cylinders of a bank.
fn is_a_bank(engine: &Engine, cylinders: &[u32]) -> bool {
    engine.banks.len() > 1
        && engine.banks.values().any(|bank| {
            bank.len() == cylinders.len() && bank.iter().all(|one| cylinders.contains(one))
        })
}

/// A share below the rest in percent. Noise may put a dead cylinder below nothing; none has less
/// than no compression.
fn as_percent(share: f64) -> f64 {
    share.clamp(0.0, 1.0) * 100.0
}

/// What stands out in the compressions, said beside the timing; `None` where nothing does or
/// nothing is judged. `cams` are the engine's cams that were measured: a low bank without one asks
/// for it.
#[must_use]
pub fn compression_clause(
    engine: &Engine,
    measured: Option<&Compression>,
    finding: &CompressionFinding,
    cams: &[usize],
) -> Option<String> {
    let sure = percent(finding.probability);
    let below = finding.below.map_or_else(String::new, |(share, _)| {
        format!("about {:.0} % below the rest", as_percent(share))
    });
    let numbers: Vec<String> = finding.cylinders.iter().map(ToString::to_string).collect();
    Some(match finding.state {
        CompressionState::Even | CompressionState::Withheld => return None,
        CompressionState::CylinderLow if numbers.is_empty() => format!(
            "Compression: one cylinder, {}, is {below} (odds of {sure}); that is no camshaft's doing.",
            unnamed(measured, finding)
        ),
        CompressionState::CylinderLow => format!(
            "Compression: cylinder {} is {below} (odds of {sure}), its bank not as a whole; a leak-down test of that cylinder \
             tells why.",
            list(&numbers)
        ),
        CompressionState::NeighboursLow => format!(
            "Compression: cylinders {}, side by side, are {below} (odds of {sure}), as a head gasket between them would leave \
             them.",
            list(&numbers)
        ),
        CompressionState::BankLow => {
            let Some(bank) = finding.bank else {
                return Some(format!(
                    "Compression: one bank, which one is not known, is {below}, its cylinders alike (odds of {sure})."
                ));
            };
            let intake = |cam: &&usize| {
                let cam = &engine.cams[**cam];
                cam.banks.contains(&bank) && cam.shaft != CamShaft::Exhaust
            };
            let means = match (cams.iter().find(intake), finding.as_if_late) {
                (None, Some(_)) => format!(
                    ", as a late intake cam would do it; that cam was not measured. Next: crank and the intake cam of bank {bank}"
                ),
                (Some(_), Some(late)) => {
                    format!(", as an intake cam about {:.0}° late would leave it", late.0)
                }
                (_, None) => String::new(),
            };
            format!(
                "Compression: bank {bank} is {below}, its cylinders alike (odds of {sure}){means}."
            )
        }
        CompressionState::Uneven => format!(
            "Compression: the cylinders differ without a pattern (odds of {sure}).{}",
            lowest(measured)
        ),
    })
}

/// What a low bank means for timing where no cam was measured.
fn as_if_late(finding: &CompressionFinding) -> String {
    match finding.as_if_late {
        Some(late) => format!(
            " A late intake cam of that bank does this: by the closing of the intake valves, one about {:.0}° late would. An early \
             one on the other bank can look alike.",
            late.0
        ),
        None => String::new(),
    }
}

/// The low peak by its place, where no lead names cylinders.
fn unnamed(measured: Option<&Compression>, finding: &CompressionFinding) -> String {
    let of = measured.map_or(0, |measured| measured.cylinders.len());
    let peak = finding.peaks.first().copied().unwrap_or(0);
    match measured.map(|measured| measured.named_by) {
        Some(NamedBy::Ignition { waste_spark: true, cylinder }) => format!(
            "peak {peak} of {of} in the table, counted from cylinder {cylinder} or its companion"
        ),
        _ => format!("peak {peak} of {of} in the table (which cylinder that is, no lead says)"),
    }
}

/// The lowest cylinders of an uneven engine.
fn lowest(measured: Option<&Compression>) -> String {
    let Some(measured) = measured else { return String::new() };
    let lowest = measured.cylinders.iter().min_by(|a, b| a.relative.total_cmp(&b.relative));
    lowest.map_or_else(String::new, |one| {
        let name = one
            .cylinder
            .map_or(format!("peak {}", one.peak), |number| format!("cylinder {number}"));
        format!(" The lowest is {name} at {:.0} % of the mean.", one.relative * 100.0)
    })
}

fn withheld(engine: &Engine, finding: &CompressionFinding) -> String {
    match finding.withheld {
        Some(WhyWithheld::NotMeasured(source, reason)) => {
            format!("Not judged from {}: {reason}.", source.word().replace('-', " "))
        }
        Some(WhyWithheld::Open { first, second }) => format!(
            "It is open whether {} or {}: the first has odds of {}.",
            reading(engine, first),
            reading(engine, second),
            percent(finding.probability)
        ),
        Some(WhyWithheld::NoLead) | None => {
            "No lead shows compressions: a clamp on the starter cable, or the battery's voltage, does.".into()
        }
    }
}

fn reading(engine: &Engine, state: CompressionState) -> &'static str {
    match state {
        CompressionState::Even => "compression is even",
        CompressionState::CylinderLow => "one cylinder is low",
        CompressionState::NeighboursLow => "two neighbours are low",
        CompressionState::BankLow if engine.banks.len() > 1 => "a bank is low",
        CompressionState::BankLow => "a group of cylinders is low",
        CompressionState::Uneven => "the cylinders differ without a pattern",
        CompressionState::Withheld => "nothing can be said",
    }
}

/// What to measure next.
#[must_use]
pub fn compression_next(
    engine: &Engine,
    measured: Option<&Compression>,
    finding: &CompressionFinding,
) -> Option<String> {
    let unnamed = measured
        .is_some_and(|measured| measured.cylinders.iter().any(|one| one.cylinder.is_none()));
    let coil =
        "a lead on the coil of one known cylinder, recorded together with the clamp, names them";
    Some(match finding.state {
        CompressionState::Even => return None,
        CompressionState::CylinderLow if unnamed => coil.to_owned(),
        CompressionState::CylinderLow | CompressionState::NeighboursLow => format!(
            "a leak-down test of cylinder {}",
            list(&finding.cylinders.iter().map(ToString::to_string).collect::<Vec<_>>())
        ),
        CompressionState::BankLow => match finding.bank {
            Some(bank) => {
                format!("the crank sensor and the intake cam sensor of bank {bank}, in one capture")
            }
            None if engine.banks.len() > 1 => {
                format!("{coil}; then the crank sensor and that bank's cam")
            }
            None => coil.to_owned(),
        },
        CompressionState::Uneven => "a compression gauge in every cylinder".to_owned(),
        CompressionState::Withheld => match finding.withheld {
            Some(WhyWithheld::Open { .. }) => {
                "the same leads again, ten seconds long and on a supported battery".to_owned()
            }
            _ => return None,
        },
    })
}

/// The owner's finding in a few words.
#[must_use]
pub fn compression_owner_title(finding: &CompressionFinding) -> &'static str {
    match finding.state {
        CompressionState::Even => "The cylinders are alike",
        CompressionState::CylinderLow => "One cylinder is weak",
        CompressionState::NeighboursLow => "Two neighbouring cylinders are weak",
        CompressionState::BankLow => "One side of the engine is weak",
        CompressionState::Uneven => "The cylinders differ",
        CompressionState::Withheld => "Compression could not be judged",
    }
}

/// The owner's finding in plain words.
#[must_use]
pub fn compression_owner(finding: &CompressionFinding) -> String {
    let numbers: Vec<String> = finding.cylinders.iter().map(ToString::to_string).collect();
    match finding.state {
        CompressionState::Even => {
            "While the starter turned the engine, every cylinder pressed about as hard as the others.".into()
        }
        CompressionState::CylinderLow if numbers.is_empty() => {
            "One cylinder presses less than the others. Which one was not recorded. A valve, the piston rings or the head \
             gasket may be the reason; a test on that cylinder tells."
                .into()
        }
        CompressionState::CylinderLow => format!(
            "Cylinder {} presses less than the others. A valve, its piston rings or the head gasket may be the reason; a test \
             on that cylinder tells.",
            list(&numbers)
        ),
        CompressionState::NeighboursLow => format!(
            "Cylinders {} press less than the others. They stand side by side, which points to the gasket between them.",
            list(&numbers)
        ),
        CompressionState::BankLow => {
            let which = finding
                .bank
                .map_or_else(|| "which one is not known".to_owned(), |bank| format!("bank {bank}"));
            format!(
                "All cylinders of one side of the engine ({which}) press less than those of the other, and alike. A camshaft of \
                 that side that runs late does this; measuring the camshaft tells."
            )
        }
        CompressionState::Uneven => {
            "The cylinders press unequally, without a pattern that points to one cause.".into()
        }
        CompressionState::Withheld => {
            "This recording does not tell whether the cylinders press alike.".into()
        }
    }
}

/// How sure, for the owner.
#[must_use]
pub fn compression_how_sure(finding: &CompressionFinding) -> String {
    match finding.state {
        CompressionState::Withheld => "Nothing is said.".into(),
        _ => percent(finding.probability),
    }
}

/// What the owner should keep in mind.
#[must_use]
pub fn compression_note() -> &'static str {
    "This compares the cylinders with each other. If all of them were weak alike, it would not show."
}
