//! What holds a verdict back or is not covered by it, as facts.

use crate::edges::SignalFault;
use crate::units::CrankDelta;

/// Something a user should hear with the verdict. Cams are indices into the engine's cams.
#[derive(Debug, Clone, PartialEq)]
pub enum Caveat {
    /// The crank wheel's teeth could not be counted beyond doubt.
    CrankNotCounted,
    /// Many teeth of the crank wheel were not seen, or edges seen that are none.
    CrankTeethLost {
        /// Teeth that should have been there.
        missed: usize,
        /// Edges that are no tooth.
        extra: usize,
        /// Marks used.
        seen: usize,
    },
    /// The edges of the crank jitter by about this much.
    CrankJitters(CrankDelta),
    /// The crank's signal is the other way up than described.
    CrankReversed,
    /// A signal is faulty.
    Signal {
        /// Name of the lead.
        lead: String,
        /// What is wrong with it.
        fault: SignalFault,
    },
    /// A cam's signal is the other way up than described.
    CamReversed(usize),
    /// A cam was seen in few cycles.
    FewCycles {
        /// The cam.
        cam: usize,
        /// How many.
        cycles: usize,
    },
    /// Some edges of a cam's wheel were never seen.
    EdgesNeverSeen {
        /// The cam.
        cam: usize,
        /// How many.
        edges: usize,
    },
    /// Rising edges of a cam's wheel lie apart from its falling ones.
    EdgeKindsApart {
        /// The cam.
        cam: usize,
        /// By how much; never negative.
        apart: CrankDelta,
    },
    /// A cam was not measured.
    NotMeasured(usize),
    /// Some cams are only known against each other.
    RelationsOnly,
    /// The crank wheel looks the same this often, and the cams do not settle which group is which.
    CrankRepeats(CrankDelta),
    /// A cam's wheel looks the same more than once a turn.
    CamRepeats {
        /// The cam.
        cam: usize,
        /// Crank degrees after which it does.
        every: CrankDelta,
    },
    /// The leads of two cams fit either way round.
    FitEitherWay(usize, usize),
    /// No chain is described.
    NoDrive,
}
