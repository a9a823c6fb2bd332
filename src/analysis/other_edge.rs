//! What every cam would read by the other kind of edge of the crank signal, where that may be the
//! one that marks the teeth.

use crate::cam::deviation::late;
use crate::cam::{CamPosition, measure};
use crate::crank::{CrankLock, WhyDoubted};
use crate::edges::EdgeTrain;
use crate::engine::{Crank, Engine};
use crate::notice::Notice;
use crate::units::{CrankDeg, CrankDelta};
use crate::wheel::EdgeKind;

/// The reading that was not taken.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherEdge {
    /// The edge that was taken.
    pub taken: EdgeKind,
    /// Why it may be the other.
    pub why: WhyDoubted,
    /// How much later everything would read by the other, negative for earlier; `None` when the
    /// wheel cannot be read by it.
    pub later: Option<CrankDelta>,
    /// Where each cam stands by the edge taken and by the other: index into the engine's cams.
    pub cams: Vec<(usize, CrankDeg, CrankDeg)>,
}

/// Reads the cams once more; `None` where the marking edge is not in doubt. `positions` are those
/// by the edge taken, `datum_shift` what is added to them to count from the cycle's datum pass.
pub(super) fn other_edge<'a>(
    engine: &Engine,
    crank: &CrankLock,
    cams: impl Iterator<Item = (usize, &'a str, &'a EdgeTrain)>,
    positions: &[CamPosition],
    datum_shift: CrankDelta,
) -> Option<OtherEdge> {
    let doubt = crank.edge_doubt.as_ref()?;
    let modulo = crank.angle.known_modulo();
    let cams = cams
        .filter_map(|(cam, lead, train)| {
            let (angle, later) = (doubt.angle.as_ref()?, doubt.later?);
            let taken = positions.iter().find(|position| position.cam == cam)?;
            let taken = taken.position + datum_shift;
            let other = measure(cam, &engine.cams[cam], lead, train, angle)?.position;
            // Each stretch counts from a datum pass of its own.
            let off = late(other, taken + later, modulo);
            Some((cam, taken, taken + (later + off)))
        })
        .collect();
    Some(OtherEdge { taken: crank.marking_edge, why: doubt.why, later: doubt.later, cams })
}

/// The level over a tooth is not the one described.
fn other_way_up(crank: &Crank, taken: &str) -> String {
    let read = format!(
        "It was read by the {taken} edges, as the file says; where the lead is inverted, the other edge marks the teeth."
    );
    if !crank.level_described() {
        return format!(
            "The crank signal is low over a tooth, as that of many sensors is; the engine file does not say so. {read} Where \
             the sensor is known to be low over a tooth, add `over_tooth = \"low\"` to [crank]."
        );
    }
    let (seen, described) = (crank.level().opposite().word(), crank.level().word());
    format!(
        "The crank signal is {seen} over a tooth and not {described}, as the engine file has it. {read}"
    )
}

impl OtherEdge {
    /// What the user should hear of it.
    pub(super) fn notice(&self, engine: &Engine) -> Notice {
        let (taken, other) = (self.taken.word(), self.taken.opposite().word());
        let stated = engine.crank.edge.map_or(taken, EdgeKind::word);
        let found = match self.why {
            WhyDoubted::Unstated => format!(
                "The engine file does not say which edge of the crank signal marks a tooth, and the spacing does not tell. \
                 The {taken} edges were taken. Add `edge` to [crank]."
            ),
            WhyDoubted::SpacingContradicts => format!(
                "The engine file says that {stated} edges of the crank signal mark the teeth, but only the {} ones are spaced \
                 as the wheel is: the lead is inverted, or the file describes another car. Read by the {taken} edges.",
                if stated == "falling" { "rising" } else { "falling" }
            ),
            WhyDoubted::WiresExchanged => format!(
                "The crank signal crosses zero {taken} at a tooth and not {stated}, as the engine file says: the two wires, or \
                 the scope's leads, are exchanged. The angles are by the crossing that marks the teeth."
            ),
            WhyDoubted::OtherWayUp => other_way_up(&engine.crank, taken),
        };
        let text = match (self.later, self.why) {
            (_, WhyDoubted::WiresExchanged) => found,
            (None, _) => format!("{found} By the {stated} edges no angle can be given."),
            (Some(later), _) => format!("{found} {}", self.by_other(engine, other, later)),
        };
        Notice { about: "crank".into(), text }
    }

    /// What stands where by the other edge.
    fn by_other(&self, engine: &Engine, other: &str, later: CrankDelta) -> String {
        let word = if later.0 < 0.0 { "earlier" } else { "later" };
        let amount = later.0.abs();
        if self.cams.is_empty() {
            return format!("By the {other} edges top dead centre stands {amount:.1}° {word}.");
        }
        let cams: Vec<String> = self
            .cams
            .iter()
            .map(|&(cam, taken, by_other)| {
                format!(
                    "{} {:.1}° and not {:.1}°",
                    engine.cams[cam].name,
                    by_other.get(),
                    taken.get()
                )
            })
            .collect();
        format!("By the {other} edges every cam reads {amount:.1}° {word}: {}.", cams.join(", "))
    }
}
