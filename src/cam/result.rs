//! A position held against where it should be: degrees, interval, teeth. Nothing is judged here.

use super::deviation::{common_period, late, whole_teeth};
use super::pattern::own_period;
use super::{CamPosition, DatumChoice};
use crate::engine::Cam;
use crate::units::{CrankDeg, CrankDelta};

/// Where the expected position came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExpectedFrom {
    /// The engine file's `at`, or a relation that leads to one.
    EngineFile,
    /// A learned known-good file.
    KnownGood,
}

/// Where a cam should stand, and how that is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// The place.
    pub at: CrankDeg,
    /// Standard deviation of that knowledge, where stated.
    pub sd: Option<CrankDelta>,
    /// What says so.
    pub from: ExpectedFrom,
}

/// A cam's position held against where it should be. What follows from the two is worked out when
/// it is asked for: [`CamResult::deviation`], [`CamResult::ci95`], [`CamResult::teeth`].
#[derive(Debug, Clone, PartialEq)]
pub struct CamResult {
    /// The cam's name in the engine description.
    pub name: String,
    /// What was measured.
    pub measured: CamPosition,
    /// Where it should be and what says so; absent when nothing does.
    pub expected: Option<Expected>,
    /// The deviation is known only up to a multiple of this.
    pub known_modulo: CrankDelta,
    /// Crank degrees per tooth of the chain nearest this cam; of the one that skipped, where the
    /// verdict says so.
    pub step: Option<CrankDelta>,
    /// Whether that is a chain, of which a tooth is a link.
    pub by_links: bool,
}

impl CamResult {
    /// Holds a position, as measured, against its expected place. `step` is that of the chain
    /// nearest the cam.
    #[must_use]
    pub fn against(
        cam: &Cam,
        mut measured: CamPosition,
        expected: Option<Expected>,
        datum: &DatumChoice,
        step: Option<CrankDelta>,
    ) -> CamResult {
        measured.position = measured.position + datum.shift;
        for edge in &mut measured.edges {
            edge.at = edge.at + datum.shift;
        }
        let period = own_period(cam, measured.known_modulo);
        let repeats = common_period(datum.known_modulo, measured.known_modulo);
        let known_modulo = CrankDelta(repeats.0.min(period.0));
        CamResult {
            name: cam.name.clone(),
            measured,
            expected,
            known_modulo,
            step,
            by_links: false,
        }
    }

    /// Measured − expected, wrapped to `known_modulo`; positive is late. Absent when no place is
    /// expected.
    #[must_use]
    pub fn deviation(&self) -> Option<CrankDelta> {
        let expected = self.expected?;
        Some(late(self.measured.position, expected.at, self.known_modulo))
    }

    /// 95 % interval of the deviation's measurement, without the reference's uncertainty.
    #[must_use]
    pub fn ci95(&self) -> Option<(CrankDelta, CrankDelta)> {
        let half_width = self.measured.half_width95;
        self.deviation().map(|deviation| (deviation - half_width, deviation + half_width))
    }

    /// Whole teeth nearest to the deviation, positive late, and the deviation less those. Absent
    /// without a deviation, or where no chain with its sprockets is described.
    #[must_use]
    pub fn teeth(&self) -> Option<(i32, CrankDelta)> {
        Some(whole_teeth(self.deviation()?, self.step?))
    }
}
