//! An explanation in a few words, and what comes along with it: the technician's.

use super::mistakes::{at_line, mistake};
use super::phrases::{cams, chain, in_engine_file, list, skipped_by};
use crate::engine::{Chain, Engine};
use crate::verdict::{Kind, Mistake, PhaserSaid, Reason, SecondFault, Weighed};

/// What an explanation is: "a skip of the primary chain at B1 intake, 1 tooth late".
#[must_use]
pub fn explanation(engine: &Engine, weighed: &Weighed) -> String {
    let on = weighed.on.as_deref().unwrap_or_default();
    let moves = || cams(engine, &weighed.moves);
    match weighed.kind {
        Kind::InTime => "all in time".into(),
        Kind::Skip => match (chain_of(engine, weighed), weighed.teeth) {
            (Some(skipped), Some(teeth)) => {
                format!(
                    "a skip of the {} at {on}, {}",
                    chain(skipped),
                    skipped_by(teeth, weighed.links)
                )
            }
            _ => format!("a skipped chain that moves {}", moves()),
        },
        Kind::Wear => {
            let worn = chain_of(engine, weighed);
            let strand = if is_whole(engine, worn, weighed) {
                String::new()
            } else {
                format!(" on its way to {}", moves())
            };
            format!("a worn {}{strand}", worn_chain(worn))
        }
        Kind::PhaserOffRest if on.is_empty() => {
            format!("the phasers of {} away from rest", moves())
        }
        Kind::PhaserOffRest => {
            let Reason::PhaserOffRest { said, .. } = &weighed.reason else {
                return format!("the phaser of {on} away from rest");
            };
            let said = match said {
                PhaserSaid::Described => String::new(),
                PhaserSaid::Nothing => ", if it has one: the engine file does not say".into(),
                PhaserSaid::Absent { line } => {
                    format!(", though none is described{}", in_engine_file(*line))
                }
                PhaserSaid::Otherwise { line } => {
                    format!(", further or the other way than described{}", in_engine_file(*line))
                }
            };
            format!("the phaser of {on} away from rest{said}")
        }
        Kind::CrankReferenceMoved => "crank wheel, key or TDC reference moved".into(),
        Kind::CamWheelMoved => format!("the trigger wheel of {on} moved"),
        Kind::DamagedTooth => format!("a damaged tooth on the wheel of {on}"),
        Kind::LeadsCrossed => {
            let other = weighed.crossed_with.as_deref().unwrap_or_default();
            format!("the leads of {on} and {other} exchanged")
        }
        Kind::DoesNotFit => match &weighed.reason {
            Reason::DoesNotFit { mistake: Mistake::Delayed(of), .. } => delay(engine, *of),
            Reason::DoesNotFit { mistake: wrong, .. } if wrong.is_of_leads() => {
                "leads on other sensors than said".into()
            }
            Reason::DoesNotFit { mistake: wrong, .. } => {
                format!("an engine file that is not right{}", at_line(engine, wrong))
            }
            _ => "an engine file that is not right".into(),
        },
    }
}

/// "a delay of the lead of B1 intake".
fn delay(engine: &Engine, of: Option<usize>) -> String {
    match of {
        Some(cam) => format!("a delay of the lead of {}", engine.cams[cam].name),
        None => "a delay of the crank's lead".into(),
    }
}

/// What most likely comes along, as a sentence with a space before it; nothing where nothing does.
pub(super) fn beside(engine: &Engine, weighed: &Weighed) -> String {
    let names = |of: &[usize]| -> Vec<String> {
        of.iter().map(|&cam| engine.cams[cam].name.clone()).collect()
    };
    let chain_at = |index: usize| engine.drive.chains.get(index);
    let rest = match &weighed.second_fault {
        SecondFault::None => return String::new(),
        SecondFault::Crossed(first, second) => {
            let pair = cams(engine, &names(&[*first, *second]));
            return format!(" This is with the leads of {pair} exchanged.");
        }
        SecondFault::Wear(worn) => format!("a worn {}", worn_chain(worn.and_then(chain_at))),
        SecondFault::Phasers(moved) => {
            format!("a phaser away from rest on {}", list(&names(moved)))
        }
        SecondFault::Places => "typed places that are all off alike".into(),
        SecondFault::Figure(wrong) => {
            format!("an engine file in which {}", mistake(engine, wrong, &[]))
        }
        SecondFault::Delayed(of) => delay(engine, *of),
        SecondFault::CrankReference => "a moved crank wheel, key or TDC reference".into(),
        SecondFault::CamWheel(cam) => {
            format!("a moved trigger wheel of {}", cams(engine, &names(&[*cam])))
        }
        SecondFault::DamagedTooth(cam) => {
            format!("a damaged tooth on the wheel of {}", cams(engine, &names(&[*cam])))
        }
        SecondFault::Skip { on, chain: skipped, teeth } => format!(
            "a second skip, of the {} at {on}, {}",
            chain_at(*skipped).map_or_else(|| "chain".into(), chain),
            skipped_by(*teeth, engine.drive.links(Some(*skipped), Some(*teeth)))
        ),
    };
    format!(" The rest fits {rest}.")
}

/// The chain that an explanation is about.
pub(super) fn chain_of<'a>(engine: &'a Engine, weighed: &Weighed) -> Option<&'a Chain> {
    let name = weighed.chain.as_ref()?;
    engine.drive.chains.iter().find(|chain| chain.name == *name)
}

fn worn_chain(worn: Option<&Chain>) -> String {
    worn.map_or_else(|| "chain".into(), chain)
}

/// Whether wear is of the whole chain, not of one strand.
fn is_whole(engine: &Engine, worn: Option<&Chain>, weighed: &Weighed) -> bool {
    worn.map_or(weighed.moves.len() == engine.cams.len(), |chain| {
        let driven = |name: &str| chain.driven.iter().any(|at| engine.drive.hangs_on(name, &at.on));
        engine.cams.iter().filter(|cam| driven(&cam.name)).count() == weighed.moves.len()
    })
}
