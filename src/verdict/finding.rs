//! The verdict: what is found, how sure, and all that was weighed.

use super::caveat::Caveat;
use super::codes::CodeAnswer;
use super::compression::CompressionJudgement;
use super::contradiction::Contradiction;
use super::controller::ControllerReading;
use super::cranking::Cranking;
use super::deviations::{CamDeviation, furthest};
use super::explanation::Weighed;
use super::kind::{Kind, State};
use super::next_test::Test;
use super::open::Open;
use super::questions::{Place, Questions};

/// The verdict.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// What is found.
    pub state: State,
    /// Probability of that finding; of the leading explanation for `cannot_tell`.
    pub probability: f64,
    /// Teeth skipped when `jumped`, positive late; absent where that is open.
    pub teeth: Option<i32>,
    /// Links by which the chain stands off, signed like `teeth`; absent for belts and gears.
    pub links: Option<i32>,
    /// The shaft or cam concerned, of a finding.
    pub on: Option<String>,
    /// The chain concerned, of a finding.
    pub chain: Option<String>,
    /// Cams displaced, of a finding; none where the place is open.
    pub moves: Vec<String>,
    /// Where a chain may have skipped, likeliest first; of `jumped` and `drive_due`.
    pub places: Vec<Place>,
    /// The cams that the finding covers: those recorded and held against something. Indices into
    /// the engine's cams.
    pub covers: Vec<usize>,
    /// Whether these are all cams of the engine.
    pub covers_every_cam: bool,
    /// Banks that the stored codes accuse, where that was weighed; empty otherwise.
    pub accused: Vec<u32>,
    /// Whether the starter should turn this engine again.
    pub cranking: Cranking,
    /// What a scan tool showed of single cams, as it was weighed.
    pub controller: Vec<ControllerReading>,
    /// Whether the odds are those of an engine that was just put together.
    pub after_repair: bool,
    /// Probability of a yes to each question an owner asks.
    pub questions: Questions,
    /// Why nothing is found; present when `cannot_tell`.
    pub open: Option<Open>,
    /// Where every measured cam stands, as the finding takes it: leads that are exchanged put
    /// right, and counted from the pass of the crank mark that brings the cams closest.
    pub deviations: Vec<CamDeviation>,
    /// Every explanation, likeliest first.
    pub explanations: Vec<Weighed>,
    /// Compression held against the cams; absent where no two banks were compared.
    pub compression: Option<CompressionJudgement>,
    /// Pairs of things that cannot both be right.
    pub contradictions: Vec<Contradiction>,
    /// The one measurement that would separate the leading two.
    pub next_test: Option<Test>,
    /// What was said of each stored code; printed beside the verdict, not in it.
    pub codes: Vec<CodeAnswer>,
    /// What holds the verdict back or is not covered by it.
    pub caveats: Vec<super::Caveat>,
}

impl Verdict {
    /// Probability that the description and the leads are this engine's.
    #[must_use]
    pub fn describes_this_engine(&self) -> f64 {
        let wrong = self.explanations.iter().filter(|one| one.kind == Kind::DoesNotFit);
        1.0 - wrong.map(|one| one.probability).sum::<f64>()
    }

    /// Cams whose expected places somebody typed and no sound engine has confirmed.
    #[must_use]
    pub fn never_confirmed(&self) -> &[usize] {
        let found = self.caveats.iter().find_map(|one| match one {
            Caveat::NeverConfirmed(cams) => Some(cams.as_slice()),
            _ => None,
        });
        found.unwrap_or_default()
    }

    /// Pairs of cams whose leads fit either way round.
    pub fn either_way(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        self.caveats.iter().filter_map(|one| match one {
            Caveat::FitEitherWay(first, second) => Some((*first, *second)),
            _ => None,
        })
    }

    /// Whether a cam was held against another by a relation that nobody confirmed: odds then say
    /// nothing of this engine.
    #[must_use]
    pub fn rests_on_assumption(&self) -> bool {
        matches!(self.open, Some(Open::Assumed { .. }))
    }

    /// The cam furthest from its place, of those that were held against anything.
    #[must_use]
    pub fn furthest(&self) -> Option<&CamDeviation> {
        furthest(&self.deviations)
    }

    /// Whether a finding was reached, see [`State::is_decided`].
    #[must_use]
    pub fn is_decided(&self, recorded_only: bool) -> bool {
        self.state.is_decided(self.covers_every_cam, recorded_only)
    }

    /// Whether a chain has skipped at a place that is open.
    #[must_use]
    pub fn place_is_open(&self) -> bool {
        self.state == State::Jumped && (self.on.is_none() || self.teeth.is_none())
    }
}
