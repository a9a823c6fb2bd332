//! How readings err, before any is looked at: standard deviations, scatter from cycle to cycle, how
//! well wheels are made, and how often a reading is worthless.
//!
//! Every number is a judgement of the trade (*common practice, no source*) unless its line
//! names a source.

use crate::units::CrankDelta;

/// Least standard deviation of any cam measurement: wheels have tooth errors that
/// repeat every turn and no averaging removes.
pub const LEAST_MEASUREMENT_SD: CrankDelta = CrankDelta(0.2);
/// Build scatter of one cam against its engine that `at_sd` leaves out: dowel, sensor seat.
pub const CAM_BUILD_SD: CrankDelta = CrankDelta(0.6);
/// Build scatter of the crank wheel, shared by all cams.
pub const CRANK_BUILD_SD: CrankDelta = CrankDelta(0.5);
/// How likely the other kind of crank edge is the marking one where the description states none and
/// the spacing does not tell: an even chance.
pub const OTHER_EDGE_UNSTATED: f64 = 0.5;
/// ... where the spacing decides against the stated edge: an inverted lead, and a description made
/// for the other edge, are about as common as one made by hand for the edge that was written.
pub const OTHER_EDGE_BY_SPACING: f64 = 0.5;
/// ... where the level over a tooth is the other one than described, the edge stated: mostly the
/// sensor is of that kind, now and then the lead is inverted.
pub const OTHER_EDGE_OTHER_WAY_UP: f64 = 0.2;
/// ... where no level is described and the signal is low over a tooth, as about half of the sensors
/// are (five of eight recordings): few leads are inverted (judgement, one in forty).
pub const OTHER_EDGE_LEVEL_UNSTATED: f64 = 0.05;
/// Standard deviation of an `at` whose description states none.
pub const DEFAULT_AT_SD: CrankDelta = CrankDelta(1.5);
/// Standard deviation of a learned position that came from too few engines to have one.
pub const KNOWN_GOOD_SD: CrankDelta = CrankDelta(1.5);

/// A cam reading from a clean signal that is nevertheless worthless: every edge of the wheel in its
/// place, cycle after cycle, and yet not this cam's wheel. Far rarer than a wheel that slipped.
pub const CAM_OUTLIER: f64 = 0.0001;
/// TDC found from motion is off by a few degrees: friction and gas move the dip.
pub const TDC_MODEL_SD: CrankDelta = CrankDelta(3.0);
/// A TDC found from motion that is worthless.
pub const TDC_OUTLIER: f64 = 0.05;
/// TDC by the peak of the pressure: the loss angle that is added is known to about a degree (common
/// practice: a motored cylinder peaks within about a degree of TDC; docs/sources.md, "Signals").
pub const PRESSURE_TDC_SD: CrankDelta = CrankDelta(1.0);
/// ... and worthless: a transducer in another cylinder than its lead is named for, or a lead on
/// another capture's trace. Named by hand at one place, so rarer than a motion that misleads.
pub const PRESSURE_TDC_OUTLIER: f64 = 0.02;
/// A valve event off the pressure against the description's, what all cylinders have in common:
/// where a valve counts as shut differs from sheet to sheet (4° in all on practice engines, with
/// [`VALVE_EVENT_OWN_SD`]).
pub const VALVE_EVENT_SD: CrankDelta = CrankDelta(3.9);
/// ... and what each cylinder has of its own: 1.5° cylinder against cylinder, over √2.
pub const VALVE_EVENT_OWN_SD: CrankDelta = CrankDelta(1.1);
/// ... of which the description says nothing: usual engines lie some tens of degrees apart, so one
/// cylinder alone says hardly anything, and two of one sort are held against each other.
pub const VALVE_EVENT_UNPLACED_SD: CrankDelta = CrankDelta(60.0);
/// A leak bends the line that the event is read from: worthless this often (judgement, no source)
/// ...
pub const VALVE_EVENT_OUTLIER: f64 = 0.05;
/// ... and then anywhere within some 60° either way.
pub const VALVE_EVENT_OUTLIER_DENSITY: f64 = 1.0 / 120.0;
/// An offset that the controller has learned against where the cam stood when it learned: its own
/// timing of the edges, warm and running (judgement, no source).
pub const LEARNED_SD: CrankDelta = CrankDelta(1.5);
/// From here on a controller may have stopped learning: one public description limits adaptation to
/// ±5 crank degrees (docs/sources.md, "Drives"), and a display rounds.
pub const LEARNING_LIMIT: CrankDelta = CrankDelta(4.5);
/// ... and then the cam may stand this much further off, or less.
pub const LEARNED_AT_LIMIT_SD: CrankDelta = CrankDelta(4.0);
/// Learned again from nothing when the battery was off or codes were cleared, or shown in another
/// unit or against another zero: says nothing this often (judgement, no source) ...
pub const LEARNED_OUTLIER: f64 = 0.3;
/// ... and then anything within the limit.
pub const LEARNED_OUTLIER_DENSITY: f64 = 0.1;
/// Sound banks differ by this share in compression (one standard deviation; common practice, no
/// source): cylinders of a sound engine scatter by some 2.5 %, the means of two banks of three by
/// 2.5 % · √(2/3).
pub const BANK_COMPRESSION_SD: f64 = 0.02;
/// The slider-crank estimate of the effect of a shift is good to about this share. For a shift of
/// 17° at 10 : 1 and a rod ratio of 3.5 it is 0.15 in ln p when the intake closes 130° before TDC,
/// 0.21 at 115° and 0.10 at 145°: a closing angle known to 15° is an error of a third. Low lift, at
/// which the valve passes little before it is shut (judgement: a fifth), adds to it.
pub const COMPRESSION_MODEL_ERROR: f64 = 0.4;
/// A bank is down for another reason (rings, gasket, a weak cylinder) this often.
pub const COMPRESSION_OUTLIER: f64 = 0.15;
/// ... by anything up to 30 % either way.
pub const COMPRESSION_OUTLIER_DENSITY: f64 = 1.0 / 0.6;

/// Scatter of single cycles of a steady cam: its median ...
pub const STEADY_SCATTER: CrankDelta = CrankDelta(0.25);
/// ... on a slack chain, where it shows ...
pub const WORN_SCATTER: CrankDelta = CrankDelta(0.9);
/// ... and on a phaser that wanders.
pub const UNLOCKED_SCATTER: CrankDelta = CrankDelta(1.5);
/// Spread of the logarithm of the scatter between engines.
pub const SCATTER_LOG_SD: f64 = 0.7;
/// How often a cam that should be steady is not.
pub const STEADY_YET_SCATTERED: f64 = 0.03;
/// How often wear or a phaser off its rest shows in scatter and trend at all.
pub const MOVING_SHOWS: f64 = 0.5;
/// Drift over the speeds of a capture of a steady cam, from interpolation alone.
pub const STEADY_DRIFT_SD: CrankDelta = CrankDelta(0.4);
/// Drift of one that moves.
pub const MOVING_DRIFT_SD: CrankDelta = CrankDelta(3.0);

/// Errors of the single edges of a sound wheel, of one kind: two cams of one real engine differ by
/// 0.72° (rising) and 0.43° (falling), root mean square, which is 0.5 and 0.3 for each (notes on
/// the recordings).
pub const EDGE_SD: CrankDelta = CrankDelta(0.5);
/// Rising against falling edges of a square wave: threshold, air gap and switching hysteresis. The
/// same two cams differ by 1.3°.
pub const EDGE_KINDS_SD: CrankDelta = CrankDelta(1.5);
/// Some sound wheels are worse by this factor, ...
pub const ROUGH_WHEEL_FACTOR: f64 = 3.0;
/// ... this share of them.
pub const ROUGH_WHEEL: f64 = 0.05;
/// An edge is called bent or chipped from here on; less is within what sound wheels show.
pub const DAMAGE_LEAST: CrankDelta = CrankDelta(4.0);
/// Beyond that, e-fold rarer every so much ...
pub const DAMAGE_MEAN: CrankDelta = CrankDelta(8.0);
/// ... up to this.
pub const DAMAGE_MOST: CrankDelta = CrankDelta(60.0);
/// A tooth that is gone: how often on a damaged wheel ...
pub const TOOTH_GONE: f64 = 0.3;
/// ... and how often all its edges are lost on a sound one, by a weak signal.
pub const EDGE_LOST: f64 = 0.01;

/// A wheel that fits the wrong cam's lead by chance.
pub const FITS_BY_CHANCE: f64 = 0.01;
