//! The number that speaks for or against an explanation: the technician's.

use super::explanation::beside;
use super::mistakes::mistake;
use super::phrases::{capital, list, skipped_by, varying};
use super::standing::{all_stand, furthest};
use crate::engine::Engine;
use crate::verdict::{Reason, Weighed};

/// Why an explanation is as likely as it is, in a sentence or two, with what comes along with it.
#[must_use]
pub fn why(engine: &Engine, weighed: &Weighed) -> String {
    reason(engine, weighed) + &beside(engine, weighed)
}

fn reason(engine: &Engine, weighed: &Weighed) -> String {
    match &weighed.reason {
        Reason::InTime { furthest: worst } => furthest(engine, worst.as_ref()),
        Reason::Skip { stand, shift, same_as } => {
            let stand = all_stand(engine, stand);
            let (Some(shift), Some(teeth)) = (shift, weighed.teeth) else {
                return format!("A skip of unknown size, as no sprockets are described: {stand}.");
            };
            let also = if same_as.is_empty() {
                String::new()
            } else {
                format!(" A skip on {} would look the same.", list(same_as))
            };
            format!(
                "{} is {} ({:.1}° a tooth): {stand}.{also}",
                capital(&skipped_by(teeth, weighed.links)),
                shift.by,
                shift.tooth.0
            )
        }
        Reason::Wear { stand, scatter } => {
            let scatter = scatter
                .map_or_else(String::new, |sd| format!("; {} from cycle to cycle", varying(sd)));
            format!(
                "Wear makes cams late by less than a tooth: {}{scatter}.",
                all_stand(engine, stand)
            )
        }
        Reason::PhaserOffRest { stand, travel, .. } => {
            let whose = if weighed.moves.len() > 1 {
                "A phaser can take its cam"
            } else {
                "Its phaser can take it"
            };
            let reach = travel.map_or_else(String::new, |travel| format!(" {whose} {travel}."));
            format!("{}.{reach}", capital(&all_stand(engine, stand)))
        }
        Reason::CrankReferenceMoved { stand } => {
            format!("Every cam would be off alike: {}.", all_stand(engine, stand))
        }
        Reason::CamWheelMoved { stand } => {
            format!("The wheel of this cam alone, by any amount: {}.", all_stand(engine, stand))
        }
        Reason::DamagedTooth { worst_edge: None } => "Its edges were not measured.".into(),
        Reason::DamagedTooth { worst_edge: Some(off) } if off.word().is_empty() => {
            "Each edge of its wheel that was seen lies where the others do.".into()
        }
        Reason::DamagedTooth { worst_edge: Some(off) } => {
            format!("The worst edge of its wheel lies {off} of the rest.")
        }
        Reason::DoesNotFit { mistake: wrong, stand } => {
            let put_right = if wrong.leaves_all_in_time() {
                " Put right, every cam stands in its place."
            } else {
                ""
            };
            format!("{}.{put_right}", capital(&mistake(engine, wrong, stand)))
        }
        Reason::LeadsCrossed => "With the two leads exchanged both cams fit better. Two places exchanged in the engine file would look the same.".into(),
    }
}
