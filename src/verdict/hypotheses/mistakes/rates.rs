//! How often a description or the leads are wrong, and in what way.
//!
//! Every number is a judgement of the trade (*common practice, no source*): nobody has counted it.
//! Nothing here is fitted to captures.

use crate::units::{CrankDelta, Seconds};

/// How often a file, or the leads, are wrong though a sound engine of the type has confirmed where
/// its cams stand: leads put on in a hurry, and another engine's file taken by mistake.
pub const WRONG_CONFIRMED: f64 = 0.01;
/// ... and where none has: figures typed from memory, in cam degrees, from TDC, for another edge or
/// another variant. Three times as often; that it is not more keeps a fault that fits well from
/// being called a slip of the pen.
pub const WRONG_UNCONFIRMED: f64 = 0.03;

/// Of wrong descriptions: every place off alike.
pub const ALL_PLACES: f64 = 0.3;
/// ... one figure wrong.
pub const ONE_FIGURE: f64 = 0.25;
/// ... the leads on other sensors, more than two of them exchanged.
pub const LEADS: f64 = 0.25;
/// ... one wheel another than described.
pub const WHEEL: f64 = 0.1;
/// ... one lead delayed, by a filter that was left switched on or that its probe has: one in a hundred
/// of them, since whoever filters filters all channels alike.
pub const DELAYED: f64 = 0.01;
/// ... nothing right.
pub const NOTHING: f64 = 0.1;

/// Of a wheel that several cams have by one line of the file: the line is wrong of all of them. The
/// rest is another part on one of the cams.
pub const WHEEL_OF_ALL: f64 = 0.5;

/// Leads in another order on an engine that has the fault it was brought in for: how often one cam
/// of them is off as well. About what the odds of all faults of a cam come to among engines with a
/// stored code.
pub const LEADS_AND_A_FAULT: f64 = 0.15;
/// ... by this much either way: four teeth, or a phaser's travel.
pub const FAULT_REACH: CrankDelta = CrankDelta(75.0);

/// A delay below this is lost among the other errors of a cam's place: 2° at 200 rpm.
pub const DELAY_LEAST: Seconds = Seconds(0.0015);
/// Beyond that, e-fold rarer every so much: time constants of filters for some tens of hertz ...
pub const DELAY_MEAN: Seconds = Seconds(0.008);
/// ... up to this: a filter for 5 Hz, through which no wheel is recognised.
pub const DELAY_MOST: Seconds = Seconds(0.03);

/// Another engine's file seldom describes wheels that fit every lead of this one, edge by edge.
pub const WHEELS_ALIKE: f64 = 0.05;

/// Of places that are all off alike: counted from TDC.
pub const FROM_TDC: f64 = 0.2;
/// ... in cam degrees, or doubled.
pub const SCALED: f64 = 0.2;
/// ... half a turn of the crank.
pub const HALF_TURN: f64 = 0.1;
/// ... by whole slots, the gap described in another place.
pub const SLOTS: f64 = 0.15;
/// ... by the other edge of the crank wheel.
pub const CRANK_EDGE: f64 = 0.1;
/// ... by the other edge of the cams' wheels.
pub const CAM_EDGE: f64 = 0.05;
/// ... by anything: another variant of the engine, another datum.
pub const ANYTHING: f64 = 0.2;
/// ... of these, by some degrees: another variant of the engine, the middle of a tooth for its
/// edge, a mark read slantwise; the rest by anything, as from another datum;
pub const ALIKE_NEAR: f64 = 0.3;
/// ... with this standard deviation.
pub const ALIKE_NEAR_SD: CrankDelta = CrankDelta(10.0);

/// Of two ways round, the one that is meant.
pub const USUAL_WAY: f64 = 0.75;

/// Of one wrong figure: the `at` of a cam ...
pub const ONE_PLACE: f64 = 0.4;
/// ... of these by one of the usual slips: of the other pass, in cam degrees, from TDC; the rest by
/// anything;
pub const PLACE_SLIP: f64 = 0.5;
/// ... a `later` by one of the usual slips ...
pub const ONE_LATER_SLIP: f64 = 0.4;
/// ... or by anything.
pub const ONE_LATER: f64 = 0.2;
/// A `later` of no turn or a whole one says that two like wheels stand alike, or half a cycle
/// apart: many a right one does. Of those that are wrong by anything a fifth was copied from another
/// variant, where it is as common; one that was misread or typed with a wrong digit hardly comes out
/// like that. So they are this many times as often a whole turn as right ones are. Left at 0 and one
/// turn off are slips of their own.
pub const WHOLE_TURN_BY_CHANCE: f64 = 0.2;

/// At most so sure is a skip, wear or a moved crank wheel that moves every measured cam alike where
/// only typed and never confirmed figures say where they belong: one such description in twenty is
/// that far off by itself, taken from an engine of another state or variant. It is what turns a
/// finding into a question that one known-good capture answers.
pub const ALIKE_TYPED_MOST: f64 = 0.95;
