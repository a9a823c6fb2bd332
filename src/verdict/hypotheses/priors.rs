//! What is believed of an engine before anything is measured: how often each fault comes, and how
//! far it moves a cam. What a reading may be wrong by stands in [`crate::verdict::errors`].
//!
//! Every number is a judgement of the trade (*common practice, no source*) unless its line
//! names one. Nothing here is fitted to recordings. Base rates are relative; they
//! are divided by their sum over the kinds an engine can have.

use crate::codes::Complaint;
use crate::units::CrankDelta;
use crate::verdict::Kind;

/// Base rate of a kind of explanation: with a stored correlation code, and without one.
pub struct BaseRate {
    /// The kind.
    pub kind: Kind,
    /// With a stored correlation code.
    pub with_code: f64,
    /// Without one.
    pub without_code: f64,
    /// After the drive was taken apart and put together, whatever the codes say.
    pub after_repair: f64,
}

const fn rate(kind: Kind, with_code: f64, without_code: f64, after_repair: f64) -> BaseRate {
    BaseRate { kind, with_code, without_code, after_repair }
}

/// The base rates.
pub const BASE_RATES: [BaseRate; 8] = [
    // Half of the engines that come in with a correlation code turn out to be in time: wiring, a
    // sensor, or an old code. Without one most are.
    // After a repair nine in ten are put together rightly.
    rate(Kind::InTime, 0.50, 0.85, 0.87),
    // What the code was made to find; rare among engines without it. Twice as often as wear alone:
    // half of the skips have wear beside them (docs/sources.md, "Verdict"). After a repair: a chain
    // laid on a tooth off, the commonest slip of all.
    rate(Kind::Skip, 0.20, 0.05, 0.08),
    // Beyond tolerance by elongation or a weak tensioner alone: the code comes late.
    // After a repair the chain is new, or was measured.
    rate(Kind::Wear, 0.10, 0.04, 0.003),
    // Stuck, unlocked or commanded: as common as a worn chain on engines that have phasers.
    // After a repair: fitted unlocked, or the lock pin not home.
    rate(Kind::PhaserOffRest, 0.12, 0.04, 0.025),
    // A sheared key, a slipped damper ring or a wrong TDC figure: seldom, yet the signals alone
    // cannot tell it from a skip at the crank, so it is kept a tenth of all skips.
    // After a repair: key left out, ring or wheel of another variant.
    rate(Kind::CrankReferenceMoved, 0.02, 0.006, 0.008),
    // A pressed-on cam wheel that slips is a curiosity beside a chain that does: one for some
    // seventy to a hundred. Wheels of a wrong part are counted where they are fitted.
    // After a repair: a wheel or sprocket of another variant, or bolted on turned.
    rate(Kind::CamWheelMoved, 0.003, 0.0005, 0.004),
    // Chipped or bent tooth: seen after other work.
    rate(Kind::DamagedTooth, 0.01, 0.003, 0.004),
    // Connectors fit either sensor on many engines, and leads are put on in a hurry.
    // After a repair: connectors put back on the wrong sensors as well.
    rate(Kind::LeadsCrossed, 0.01, 0.006, 0.01),
];

/// A code that a phaser is over-advanced or over-retarded makes a phaser fault this much likelier.
pub const PHASER_CODE_GAIN: f64 = 3.0;
/// In a running engine the controller moves the phasers as it likes.
pub const RUNNING_PHASER_GAIN: f64 = 5.0;
/// Gears do not skip unless teeth are stripped; relative to a chain.
pub const GEAR_SKIP: f64 = 0.02;
/// Belts stretch less than chains wear; relative to a chain.
pub const BELT_WEAR: f64 = 0.3;

/// One tooth is the usual skip; each further one is several times rarer.
pub const TEETH: [f64; 4] = [0.72, 0.18, 0.06, 0.04];
/// The slack strand lets the driven shaft fall behind rather than run ahead.
pub const SKIP_LATE: f64 = 0.55;
/// The driving sprocket has the chain on more of its teeth than a driven one half its speed
/// has slack beside: it skips somewhat less often.
pub const DRIVER_PLACE: f64 = 0.7;
/// The slack strand can jump both sprockets of a bank at once; relative to one of them.
pub const BOTH_SPROCKETS: f64 = 0.3;
/// A chain that skipped was slack: how often its wear shows as well.
pub const SKIP_WITH_WEAR: f64 = 0.5;
/// How often one particular phaser is off its rest as well when a chain skipped, cranking: a
/// second, unconnected fault, as rare as in any engine on the road.
pub const SKIP_WITH_PHASER: f64 = 0.005;
/// A second fault of the engine that has nothing to do with the first, relative to its base rate
/// without a code: those are engines that somebody suspected, ten times likelier to have a fault
/// than any on the road. Leads are crossed as often on this engine as on any.
pub const SECOND_FAULT: f64 = 0.1;
/// Any other fault on a chain that is worn too.
pub const FAULT_WITH_WEAR: f64 = 0.15;
/// In a running engine, how often a phaser stands somewhere in its travel rather than at rest.
pub const RUNNING_PHASER_AWAY: f64 = 0.6;
/// Of phaser faults: one cam alone. The rest moves several.
pub const ONE_PHASER_CRANKING: f64 = 0.8;
/// As above with the engine running: the controller moves them together.
pub const ONE_PHASER_RUNNING: f64 = 0.3;
/// Of several phasers: those of one kind by the same amount, as one oil supply or command does.
pub const PHASERS_ALIKE: f64 = 0.5;
/// How often a cam of an engine with separate intake and exhaust cams has a phaser when its
/// description does not say: most such engines have one, and most who describe one say so.
pub const PHASER_UNSAID: f64 = 0.1;
/// ... a cam that works all valves of its bank: few have one.
pub const PHASER_UNSAID_SINGLE: f64 = 0.03;
/// How often what a description does say of a cam's phaser is wrong, `phaser = "none"` of one that
/// has one, `rest` the wrong way round, or the travel in cam degrees (judgement, no source). Rare
/// enough that a cam off by what no tooth makes is rather its wheel's, the rarest fault that is
/// weighed, until compression or pressure shows that the valves are off with it.
pub const PHASER_MISDESCRIBED: f64 = 0.001;
/// How far a phaser that is not described may reach: what described ones commonly reach (from
/// memory: 40° to 60°).
pub const PHASER_UNSAID_TRAVEL: CrankDelta = CrankDelta(50.0);
/// Intake phasers rest late and go early, exhaust ones rest early and go late; this share of them.
pub const PHASER_USUAL_WAY: f64 = 0.9;
/// A phaser that rests in the middle and was not caught by its lock lies against a stop this often
/// when the engine is cranked without oil pressure, not between (judgement, no source) ...
pub const MISSED_LOCK_AT_STOP: f64 = 0.5;
/// ... the late one this often: the valves' friction drags the cam behind (common practice, no
/// source).
pub const MISSED_LOCK_LATE: f64 = 0.7;
/// A stop is where the travel of the description ends, within this (crank degrees).
pub const STOP_WITHIN: CrankDelta = CrankDelta(2.0);
/// Phasers under one command still stand this far apart (crank degrees).
pub const PHASER_TRACKING_SD: CrankDelta = CrankDelta(2.0);

/// Wear: e-fold rarer every four degrees. A strand of length L that is longer by the share ε lets a
/// cam with pitch radius r fall behind by about ε L / r: a few crank degrees at 0.5 % (geometry).
pub const WEAR_MEAN: CrankDelta = CrankDelta(4.0);
/// A chain worn further than this, at the shaft where its strands have added up, runs on its guides
/// and out of tensioner first.
pub const WEAR_MOST: CrankDelta = CrankDelta(18.0);
/// One strand of it alone, or all its shafts alike, cannot take up all that the tensioner lets go;
/// alike by more than this, they stand as a skip at the driver leaves them.
pub const STRAND_MOST: CrankDelta = CrankDelta(14.0);
/// Of worn chains that drive several shafts: all of them late alike, as where they stand side by
/// side or the wear is in the drive before them ...
pub const WHOLE_CHAIN: f64 = 0.6;
/// ... each strand adds what it has lengthened by, so that the shaft furthest along the pull is the
/// latest ...
pub const STRANDS_ADD_UP: f64 = 0.25;
/// ... the rest is one strand alone, as on a guide that broke. The strands that add up are alike in
/// length to about this at the cams before the last (crank degrees): 12° over two strands that
/// differ by a sixth.
pub const STRANDS_UNEVEN_SD: CrankDelta = CrankDelta(1.0);
/// Of the wear of an engine whose drive is not described: all cams alike.
pub const WHOLE_WITHOUT_DRIVE: f64 = 0.7;
/// How often a sound engine's chain has lengthened measurably, within tolerance.
pub const SOUND_WITH_WEAR: f64 = 0.5;
/// ... by this much, e-fold.
pub const SOUND_WEAR_MEAN: CrankDelta = CrankDelta(2.0);

/// A moved crank reference, beyond tolerance: mostly near, e-fold rarer every so much ...
pub const CRANK_MOVED_MEAN: CrankDelta = CrankDelta(15.0);
/// ... in this share of the cases;
pub const CRANK_MOVED_NEAR: f64 = 0.7;
/// else anywhere in the turn, as after fitting a wrong part.
pub const CRANK_MOVED_MOST: CrankDelta = CrankDelta(180.0);
/// A moved cam wheel, beyond tolerance: a slip, e-fold rarer every so much ...
pub const CAM_WHEEL_MEAN: CrankDelta = CrankDelta(20.0);
/// ... in this share of the cases; else anywhere, as with a wrong part.
pub const CAM_WHEEL_NEAR: f64 = 0.5;

/// How often a fault has one of another kind beside it.
pub fn beside(kind: Kind) -> f64 {
    let unconnected = if kind == Kind::LeadsCrossed { 1.0 } else { SECOND_FAULT };
    base_rate(kind, false) * unconnected
}

/// Put together at two places wrongly, relative to two skips apart on the road: one pair of hands
/// did both.
pub const MISASSEMBLED_TWICE: f64 = 10.0;
/// Laid on a tooth late or a tooth early: alike.
pub const MISASSEMBLED_LATE: f64 = 0.5;
/// How often a chain is worn measurably after a repair: the old one was put back.
pub const WORN_AFTER_REPAIR: f64 = 0.1;

/// The base rate of a kind after a repair.
pub fn repair_rate(kind: Kind) -> f64 {
    BASE_RATES.iter().find(|row| row.kind == kind).map_or(0.0, |row| row.after_repair)
}

/// Whether stored codes say that crank and cams disagree.
pub fn correlation_code(codes: &[String]) -> bool {
    let complaints = codes.iter().filter_map(|code| Complaint::of(code));
    complaints
        .into_iter()
        .any(|complaint| matches!(complaint, Complaint::Bank(_) | Complaint::Correlation(..)))
}

/// The odds before anything is measured of an engine that can have every kind of fault, as they are
/// told: the base rates divided by their sum.
pub fn stated(codes: &[String], after_repair: bool) -> Vec<(Kind, f64)> {
    let correlation = correlation_code(codes);
    let rate = |row: &BaseRate| match after_repair {
        true => row.after_repair,
        false => base_rate(row.kind, correlation),
    };
    let total: f64 = BASE_RATES.iter().map(rate).sum();
    BASE_RATES.iter().map(|row| (row.kind, rate(row) / total)).collect()
}

/// The base rate of a kind.
pub fn base_rate(kind: Kind, correlation_code: bool) -> f64 {
    let found = BASE_RATES.iter().find(|row| row.kind == kind);
    found.map_or(0.0, |row| if correlation_code { row.with_code } else { row.without_code })
}
