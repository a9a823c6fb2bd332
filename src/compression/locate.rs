//! Where the compressions are: the stretch, the lead and the engine file brought together.

use std::borrow::Cow;

use super::curve::{Curve, Window, windows};
use super::cycles::{Cycles, Pace};
use super::cylinders::{self, NamedBy};
use super::energy::StoredEnergy;
use super::input::{CompressionInput, LEAST_CYCLES, Source, Trigger, TriggerLead};
use super::model::{self, Fit};
use super::steady::Steady;
use super::tdc::{self, TdcCheck};
use super::withheld::Withheld;
use super::{lead, pressure};
use crate::angle::AngleFrom;
use crate::engine::Engine;
use crate::units::{CYCLE_DEG, CrankDelta, TURN_DEG};

/// Steps of crank angle a firing interval needs before speed alone shows a compression.
const LEAST_STEPS_PER_INTERVAL: f64 = 4.0;
/// A model that explains less of the variation than this has not found the compressions.
const LEAST_EXPLAINED: f64 = 0.5;
/// How far from the stated TDC the motion is searched on an unevenly firing engine, either way.
const UNEVEN_REACH: f64 = 45.0;
/// Two layouts are each searched up to this share of the way to the other.
const NEARER: f64 = 0.45;
/// Of two layouts of an uneven engine the better is believed when it leaves at most this share of
/// the other's misfit.
const BETTER_LAYOUT: f64 = 0.7;
/// More layouts than these (even teeth 15° apart on four cylinders) lie closer together than the
/// search reaches either side, so that neighbours fit alike and none is the better; on a wheel of
/// hundreds of teeth trying them takes minutes.
const MOST_LAYOUTS: usize = 12;
/// Search reach of the second fit, crank degrees: only the cycle's boundaries have moved.
const SECOND_REACH: f64 = 6.0;

/// What every source is measured on.
pub(super) struct Context<'a> {
    pub input: &'a CompressionInput<'a>,
    pub steady: Steady,
    pub energy: StoredEnergy,
    /// Crank speed by the teeth.
    pub speed: &'a Curve,
}

/// Compressions found in a curve.
pub(super) struct Located {
    /// Place of cylinder 1's firing TDC the layout was drawn from.
    pub base: f64,
    /// Every place it may have.
    pub places: Vec<f64>,
    /// What struck places out.
    pub named_by: NamedBy,
    /// Whether the cams alone say which turn of the cycle is which.
    pub turn_by_cams: bool,
    pub fit: Fit,
    pub windows: Vec<Window>,
}

impl Context<'_> {
    /// The curve of a source. That of the speed is not copied: of a long capture it is the most that
    /// is held.
    pub fn curve(&self, source: Source) -> Result<Cow<'_, Curve>, Withheld> {
        let speed = self.speed;
        let span = (self.steady.from, self.steady.to);
        match source {
            Source::CrankSpeed => {
                let steps = speed.steps_in(span.0.0, span.1.0).len() as f64;
                let intervals = (span.1.0 - span.0.0) / self.interval();
                if steps < LEAST_STEPS_PER_INTERVAL * intervals {
                    return Err(Withheld::WheelTooCoarse);
                }
                Ok(Cow::Borrowed(speed))
            }
            Source::StarterCurrent | Source::BatteryVoltage => {
                let lead = if source == Source::StarterCurrent {
                    self.input.starter
                } else {
                    self.input.battery
                };
                lead::curve(
                    &lead.ok_or(Withheld::LeadTooShort)?,
                    source,
                    self.input.angle,
                    speed,
                    span,
                )
                .map(Cow::Owned)
            }
        }
    }

    pub fn interval(&self) -> f64 {
        CYCLE_DEG / self.input.engine.firing_order.len() as f64
    }

    /// Finds where the compressions are.
    pub fn locate(&self, curve: &Curve) -> Result<Located, Withheld> {
        let engine = self.input.engine;
        let symmetries = cylinders::symmetries(engine);
        let step =
            if symmetries.len() > 1 { CYCLE_DEG / symmetries.len() as f64 } else { CYCLE_DEG };
        // What a coil or a pressure lead strikes out need not be told apart by the motion.
        let (stated, struck_by) = self.struck_out(self.stated_places());
        let marked = if stated.is_empty() { self.marked_places() } else { Vec::new() };
        let known = if stated.is_empty() { &marked } else { &stated };
        let mut layouts: Vec<f64> = Vec::new();
        for &place in if known.is_empty() { &[0.0][..] } else { known } {
            if !layouts.iter().any(|layout| self.same_layout(place - layout)) {
                layouts.push(place);
            }
        }
        let reach = if known.is_empty() {
            step / 2.0
        } else if layouts.len() > 1 {
            // Each layout is searched nearer to itself than to any other.
            let apart = |a: f64, b: f64| CrankDelta(a - b).wrap(CrankDelta(step)).0.abs();
            let pairs = layouts.iter().enumerate().flat_map(|(at, &one)| {
                layouts[at + 1..].iter().map(move |&other| apart(one, other))
            });
            pairs.fold(UNEVEN_REACH.min(step / 2.0), |least, apart| least.min(NEARER * apart))
        } else if symmetries.len() > 1 {
            step / 2.0
        } else {
            UNEVEN_REACH
        };
        if layouts.len() > MOST_LAYOUTS {
            return Err(Withheld::PhaseUnknown);
        }
        let mut fits: Vec<(f64, Fit, Vec<Window>)> = layouts
            .into_iter()
            .filter_map(|base| {
                self.fit(curve, base, reach).map(|(fit, windows)| (base, fit, windows))
            })
            .collect();
        fits.sort_by(|a, b| b.1.explained.total_cmp(&a.1.explained));
        if fits.len() > 1 && 1.0 - fits[0].1.explained > BETTER_LAYOUT * (1.0 - fits[1].1.explained)
        {
            return Err(Withheld::PhaseUnknown);
        }
        let whole = ((self.steady.to.0 - self.steady.from.0) / CYCLE_DEG) as usize;
        let Some((base, fit, windows)) = fits.into_iter().next() else {
            return Err(if whole < LEAST_CYCLES {
                self.too_few(whole)
            } else {
                Withheld::CompressionsNotSeen
            });
        };
        if windows.len() < LEAST_CYCLES {
            return Err(self.too_few(windows.len()));
        }
        if fit.explained < LEAST_EXPLAINED || fit.gain <= 0.0 {
            return Err(Withheld::CompressionsNotSeen);
        }
        let (base, places) = if stated.is_empty() {
            // Where TDC is the motion says, up to the symmetry of the firing.
            let found = base + fit.shift;
            (found, symmetries.iter().map(|by| found + by).collect())
        } else {
            let same = stated.iter().copied().filter(|place| self.same_layout(place - base));
            (base, same.collect::<Vec<f64>>())
        };
        let fit = if stated.is_empty() { Fit { shift: 0.0, ..fit } } else { fit };
        let (places, by) = self.struck_out(places);
        let named_by = match (struck_by.or(by), places.len()) {
            (Some(by), _) => by,
            (None, 1) if self.stated_tdc().is_some() => NamedBy::Phase,
            (None, 1) => NamedBy::FiringPattern,
            (None, _) => NamedBy::Nothing,
        };
        let turn_by_cams = named_by == NamedBy::Phase && !places.iter().all(|&at| self.marked(at));
        Ok(Located { base, places, named_by, turn_by_cams, fit, windows })
    }

    /// Too few cycles, and whether it was the engine's starting that cut them short.
    pub fn too_few(&self, whole: usize) -> Withheld {
        if self.steady.fired > 0 {
            Withheld::EngineStarted { cycles: whole }
        } else {
            Withheld::FewerThanThreeCycles { whole }
        }
    }

    fn same_layout(&self, by: f64) -> bool {
        let angles: Vec<f64> = self.input.engine.firing_angles.iter().map(|a| a.0).collect();
        cylinders::same_pattern(&angles, by)
    }

    /// Places of cylinder 1's firing TDC by the engine file, on the crank stretch's scale.
    fn stated_places(&self) -> Vec<f64> {
        let Some(tdc) = self.stated_tdc() else { return Vec::new() };
        if let Some(offset) = self.input.datum_offset {
            return vec![tdc.0 - offset.0];
        }
        let modulo = self.input.angle.known_modulo().0.clamp(1.0, CYCLE_DEG / 2.0);
        (0..(CYCLE_DEG / modulo).round() as usize).map(|i| tdc.0 + i as f64 * modulo).collect()
    }

    /// TDC of cylinder 1 by the engine file, where the angle counts from the crank's datum.
    fn stated_tdc(&self) -> Option<CrankDelta> {
        self.input.engine.crank.tdc.filter(|_| self.input.angle_from == AngleFrom::Crank)
    }

    fn fit(&self, curve: &Curve, base: f64, reach: f64) -> Option<(Fit, Vec<Window>)> {
        let angles = &self.input.engine.firing_angles;
        let tdcs: Vec<f64> = angles.iter().map(|angle| base + angle.0).collect();
        let (from, to) = (self.steady.from.0, self.steady.to.0);
        let tight = vec![self.energy.clone(); tdcs.len()];
        // Not held beside those of the second fit.
        let rough = {
            let cycles = Cycles::of(curve, windows(curve, from, to));
            model::search(&cycles, &tdcs, &tight, reach)?
        };
        // A cycle cut between compressions keeps each compression in one piece.
        let aligned: Vec<f64> = tdcs.iter().map(|tdc| tdc + rough.shift).collect();
        let start = first_cut(&aligned, from);
        let mut cycles = Cycles::of(curve, windows(curve, start, to));
        let fit = model::search(&cycles, &aligned, &tight, SECOND_REACH)?;
        let pace = Pace::of(self.speed, start, to);
        let fit = model::settle(&mut cycles, &aligned, &self.energy, &pace, fit)?;
        let windows = cycles.windows;
        Some((Fit { shift: fit.shift + rough.shift, ..fit }, windows))
    }

    /// Lets pressure and ignition leads strike out places of cylinder 1; which lead did. What is
    /// known without them stays, and what none of them allows.
    fn struck_out(&self, places: Vec<f64>) -> (Vec<f64>, Option<NamedBy>) {
        let by_coil_alone = self.input.angle_from != AngleFrom::Crank;
        if places.is_empty() || places.len() == 1 && !by_coil_alone {
            return (places, None);
        }
        let engine = self.input.engine;
        for (cylinder, lead) in self.input.pressure {
            let peaks = pressure::peak_angles(lead, self.input.angle);
            let as_spark = as_spark(*cylinder);
            let (kept, by) =
                cylinders::allowed_by_ignition(engine, &places, Some((&as_spark, &peaks)));
            if by.is_some() {
                return (kept, Some(NamedBy::Pressure { cylinder: *cylinder }));
            }
        }
        for lead in self.input.triggers {
            let angles = self.angles_of(lead);
            let (kept, by) = cylinders::allowed_by_ignition(engine, &places, Some((lead, &angles)));
            if by.is_some() {
                return (kept, by);
            }
        }
        (places, None)
    }

    /// Whether a mark that comes once a cycle has this place of cylinder 1's firing TDC, and not the
    /// one a turn on. An injector is none: not every engine opens it near TDC.
    fn marked(&self, place: f64) -> bool {
        let places = [place, place + TURN_DEG];
        let keeps = |lead: &TriggerLead, angles: &[f64]| {
            let (kept, by) =
                cylinders::allowed_by_ignition(self.input.engine, &places, Some((lead, angles)));
            by.is_some() && kept == [place]
        };
        let peaks = |(cylinder, lead): &(u32, _)| {
            keeps(&as_spark(*cylinder), &pressure::peak_angles(lead, self.input.angle))
        };
        let coils = self.input.triggers.iter().filter(|lead| lead.of == Trigger::Coil);
        self.input.pressure.iter().any(peaks)
            || coils.into_iter().any(|lead| keeps(lead, &self.angles_of(lead)))
    }

    fn angles_of(&self, lead: &TriggerLead) -> Vec<f64> {
        let angle = self.input.angle;
        lead.pulses.iter().filter_map(|&at| angle.angle_at(at)).map(|at| at.0).collect()
    }

    /// Places of cylinder 1's firing TDC by the first coil or injector alone, of an engine whose
    /// firing is not even: there the compressions fit in several ways, some nearly as well as the
    /// right one.
    fn marked_places(&self) -> Vec<f64> {
        let engine = self.input.engine;
        let evenly = cylinders::symmetries(engine).len() == engine.firing_order.len();
        if evenly {
            return Vec::new();
        }
        let places = |lead| cylinders::places_by_trigger(engine, lead, &self.angles_of(lead));
        self.input.triggers.iter().find_map(places).unwrap_or_default()
    }
}

/// A pressure lead stands for a spark that comes once a cycle.
fn as_spark(cylinder: u32) -> TriggerLead {
    TriggerLead { cylinder, of: Trigger::Coil, waste_spark: false, pulses: Vec::new() }
}

impl Located {
    pub fn check(&self, engine: &Engine) -> TdcCheck {
        let symmetries = cylinders::symmetries(engine).len() as f64;
        let modulo = CYCLE_DEG / symmetries;
        tdc::check(engine.crank.tdc, self.base, self.fit.shift, modulo, self.fit.explained)
    }
}

/// First angle from `from` on that lies midway between two neighbouring compressions.
fn first_cut(tdcs: &[f64], from: f64) -> f64 {
    let mut within: Vec<f64> = tdcs.iter().map(|tdc| (tdc - from).rem_euclid(CYCLE_DEG)).collect();
    within.sort_by(f64::total_cmp);
    let last = within.last().copied().unwrap_or(0.0) - CYCLE_DEG;
    let before = std::iter::once(last).chain(within.iter().copied());
    let cuts = before.zip(&within).map(|(a, b)| 0.5 * (a + b));
    from + cuts.map(|cut| cut.rem_euclid(CYCLE_DEG)).fold(CYCLE_DEG, f64::min)
}
