//! How a crank and its sensor behave: what a change of speed from one step to the next costs, and a
//! tooth that left no edge.
//!
//! Three things change the speed read off one step against that of the next. Torque: the crank
//! gains and loses energy, and the same torque changes a slow crank's speed more than a fast one's
//! (d ln v / dθ = torque / (inertia · v²)), so that it is held against the square of the mean speed
//! around it. Wheel and sensor: every step is a little long or short, in proportion. Jitter: every
//! edge has a scatter of its own, in degrees, which speaks louder on short steps; it is none on
//! most captures and is estimated where there is some ([`Habits::with_jitter_of`]). A step between
//! two such edges is no measure of the speed, nor is the change from one to the next, so that
//! angle and speed are then followed along a path (`track.rs`).
//!
//! A change is charged as the negative log of a Student-t density, so that one bad patch costs what
//! it is worth and no more.

/// How fast the log of the speed may change at mean speed, per degree. A ripple of 25 % peak to
/// peak at third order has an rms slope of 0.125 · 3 / √2 per radian = 0.0046 per degree; second
/// order at 50 % has 0.0062 (starters' ripple is commonly ±10 to ±25 %, common practice).
const RIPPLE_PER_DEGREE: f64 = 0.006;
/// The same of an engine that turns evenly: spun without its plugs, or on a bench.
const CALM_PER_DEGREE: f64 = 0.0015;
/// The same of an engine with a light flywheel: a three-cylinder was recorded at 127 to 521 rpm,
/// and sprang from its compressions with up to 0.042 per degree.
const WILD_PER_DEGREE: f64 = 0.02;
/// Price of a tooth that left no edge, in nats: one in fifty is a bad wheel (judgement).
const MISSED_PRICE: f64 = 4.0;
/// The same where a sensor or its conditioner loses teeth all the time: one in four or five (a
/// recorded one lost 17 of 63).
const LOSSY_PRICE: f64 = 1.5;
/// Torque is held against the square of the mean speed within these bounds: below, the wheel's
/// scatter rules anyway; above, the crank is stopping.
const TORQUE_BOUNDS: (f64, f64) = (0.25, 4.0);
/// Scatter of a step's log from tooth position and edge timing: 0.3° on a 6° step, as seen beside
/// the gap of real reluctance wheels (recordings: 0.33 to 0.39°).
pub(super) const PITCH_SCATTER: f64 = 0.05;
/// Degrees of freedom of the Student-t: heavy tails, for the patches that are not as modelled.
const TAIL: f64 = 4.0;
/// Scatters of an edge that are tried, in degrees. Below the first is the wheel's own, recorded at
/// 0.05 to 0.12 away from gaps and 0.4 beside them, which every change of speed is allowed; followed
/// along a path it would be told from none by how the ripple is modelled.
const JITTERS: [f64; 5] = [0.5, 0.8, 1.2, 1.8, 2.7];
/// Changes of speed that cost less than this on average, in nats, half of what those do that are as
/// expected, leave nothing for a scatter to explain: over the long steps of a wheel of a few even
/// teeth a steady engine is calmer than any swing allows, and is no jitter for it.
const CALM_ENOUGH: f64 = 0.25;
/// Jitter is believed when it explains the changes better by this much per step, in nats. On a
/// wheel without any the best of the scatters above gains next to nothing; with half a degree on
/// 10° steps it gains 0.2.
const WORTH_PER_STEP: f64 = 0.05;

/// One step from mark to mark; where edges jitter, what all steps up to it tell of the crank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stride {
    /// Logarithm of its speed in degrees per second.
    pub log_speed: f64,
    /// Its length in crank degrees; 0 before the first step of a path.
    pub length: f64,
    /// Where edges jitter, how far the crank was beyond the mark when its edge came.
    pub beyond: f64,
    /// And how well that and the speed are known: variance, covariance, variance.
    pub spread: [f64; 3],
}

impl Stride {
    /// A step by itself.
    pub fn new(log_speed: f64, length: f64) -> Stride {
        Stride { log_speed, length, beyond: 0.0, spread: [0.0; 3] }
    }
}

/// A path that has not made a step yet.
pub(super) const NO_STRIDE: Stride =
    Stride { log_speed: 0.0, length: 0.0, beyond: 0.0, spread: [0.0; 3] };

/// What a step costs after those before it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Followed {
    /// In nats: 0 for one as expected.
    pub nats: f64,
    /// Logarithm of the scatter that was expected of the log of its length in time.
    pub log_sd: f64,
    /// What is known after it.
    pub stride: Stride,
}

/// Two steps that follow each other.
pub(super) type Change = (Stride, Stride);

/// What is expected of a crank and its sensor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Habits {
    /// Standard deviation of one edge's place, in crank degrees, beyond what every wheel has.
    pub jitter: f64,
    /// How fast the log of the speed may change at mean speed, per degree.
    ripple: f64,
    /// Price of a tooth that left no edge, in nats.
    pub missed_price: f64,
    /// Whether a path is doubted by them and not searched for. Then a step pays for the room that a
    /// slow crank has for its speed to change: of two ways to read an edge the one that leaves more
    /// room says less. And where one tooth was lost the next is lost as easily. The search does
    /// without, so that an engine that springs from its compressions is followed; where edges
    /// jitter room is charged in any case, and teeth that seem lost are edges that came late.
    doubts: bool,
}

/// What steps along a path cost together, in nats.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cost {
    /// How rough they are: half a nat each where they are as expected.
    pub nats: f64,
    /// Negative log density, less a constant: what two habits are told apart by.
    pub surprise: f64,
}

impl Habits {
    /// Of an engine that cranks or runs, and a wheel without jitter.
    pub const USUAL: Habits = Habits {
        jitter: 0.0,
        ripple: RIPPLE_PER_DEGREE,
        missed_price: MISSED_PRICE,
        doubts: false,
    };
    /// Of an engine that turns evenly.
    pub const CALM: Habits = Habits { ripple: CALM_PER_DEGREE, ..Habits::USUAL };
    /// Of an engine with a light flywheel.
    pub const WILD: Habits = Habits { ripple: WILD_PER_DEGREE, ..Habits::USUAL };
    /// Of a sensor that loses teeth, on an engine that turns evenly.
    pub const LOSSY: Habits = Habits { missed_price: LOSSY_PRICE, ..Habits::CALM };

    /// Of an engine as usual, whose edges have a scatter of their own, in crank degrees.
    pub fn jittery(jitter: f64) -> Habits {
        Habits { jitter, ..Habits::USUAL }
    }

    /// Whether they are those of an engine that springs from its compressions.
    pub fn is_wild(self) -> bool {
        self.ripple >= WILD_PER_DEGREE
    }

    /// The same as what a path is doubted by: see [`Habits::doubts`].
    pub fn doubting(self) -> Habits {
        Habits { doubts: self.jitter == 0.0, ..self }
    }

    /// The stricter of two in everything.
    pub fn stricter(self, other: Habits) -> Habits {
        Habits {
            jitter: self.jitter.min(other.jitter),
            ripple: self.ripple.min(other.ripple),
            missed_price: self.missed_price.max(other.missed_price),
            doubts: self.doubts || other.doubts,
        }
    }

    /// Price of so many teeth in a row that left no edge.
    pub fn price_of_missing(self, teeth: usize) -> f64 {
        let further =
            if self.doubts { LOSSY_PRICE.min(self.missed_price) } else { self.missed_price };
        match teeth {
            0 => 0.0,
            _ => self.missed_price + further * (teeth - 1) as f64,
        }
    }

    /// Cost in nats of so many teeth that left no edge among so many that did.
    pub fn losses(self, missed: usize, seen: usize) -> f64 {
        let kept = -(1.0 - (-self.missed_price).exp()).ln();
        self.missed_price * missed as f64 + kept * seen as f64
    }

    /// How much faster the log of the speed may change per degree at this speed than at the mean.
    pub(super) fn torque(log_speed: f64, log_mean: f64) -> f64 {
        (2.0 * (log_mean - log_speed)).exp().clamp(TORQUE_BOUNDS.0, TORQUE_BOUNDS.1)
    }

    /// How fast the log of the speed may change at this speed, per degree.
    pub(super) fn ripple_at(self, log_speed: f64, log_mean: f64) -> f64 {
        self.ripple * Habits::torque(log_speed, log_mean)
    }

    /// Standard deviation of the change of log speed between two steps, and the nats charged for
    /// how much wider it is than at the mean speed.
    fn sd(self, before: Stride, now: Stride, log_mean: f64) -> (f64, f64) {
        let apart = before.length.midpoint(now.length);
        let sd = |ripple: f64| (PITCH_SCATTER * PITCH_SCATTER + (ripple * apart).powi(2)).sqrt();
        let here = sd(self.ripple_at(before.log_speed.midpoint(now.log_speed), log_mean));
        let room = if self.doubts { (here / sd(self.ripple)).ln() } else { 0.0 };
        (here, room)
    }

    /// A step of so many degrees at this speed after those before it. The first step of a path
    /// costs nothing.
    pub fn follow(self, before: Stride, now: Stride, log_mean: f64) -> Followed {
        if self.jitter > 0.0 {
            return self.track(before, now, log_mean);
        }
        if before.length == 0.0 {
            return Followed { nats: 0.0, log_sd: 0.0, stride: now };
        }
        let (sd, room) = self.sd(before, now, log_mean);
        let nats = unlikely((now.log_speed - before.log_speed) / sd) + room;
        Followed { nats, log_sd: sd.ln() - room, stride: now }
    }

    /// Less than a step costs after those before it, and found without a logarithm: see
    /// [`Habits::follow`].
    pub fn follow_at_least(self, before: Stride, now: Stride) -> f64 {
        if self.jitter > 0.0 || before.length == 0.0 {
            return 0.0;
        }
        let ripple = self.ripple * TORQUE_BOUNDS.1 * before.length.midpoint(now.length);
        let change = now.log_speed - before.log_speed;
        let widest = PITCH_SCATTER * PITCH_SCATTER + ripple * ripple;
        let least = 0.5 * (TAIL + 1.0) * log_at_most(1.0 + change * change / (TAIL * widest));
        // A fast crank's room is at most so much narrower than at the mean speed.
        least + if self.doubts { TORQUE_BOUNDS.0.ln() } else { 0.0 }
    }

    /// Cost in nats of the change between what is known from before and from after an edge.
    pub fn meet(self, before: Stride, after: Stride, log_mean: f64) -> f64 {
        if before.length == 0.0 || after.length == 0.0 {
            return 0.0;
        }
        let (sd, room) = if self.jitter > 0.0 {
            ((before.spread[2] + after.spread[2]).sqrt(), 0.0)
        } else {
            self.sd(before, after, log_mean)
        };
        unlikely((after.log_speed - before.log_speed) / sd) + room
    }

    /// What steps that follow each other cost, each given with the log of the mean speed around it;
    /// `None` begins anew.
    pub fn cost(self, steps: impl Iterator<Item = Option<(Stride, f64)>>) -> Cost {
        let (mut before, mut cost) = (NO_STRIDE, Cost { nats: 0.0, surprise: 0.0 });
        for step in steps {
            let Some((now, log_mean)) = step else {
                before = NO_STRIDE;
                continue;
            };
            let followed = self.follow(before, now, log_mean);
            cost.nats += followed.nats;
            cost.surprise += followed.nats + followed.log_sd;
            before = followed.stride;
        }
        cost
    }

    /// With the jitter of at most so much, in crank degrees, under which the steps along a path are
    /// likeliest; none when it explains little.
    pub fn with_jitter_of(self, steps: &[Option<(Stride, f64)>], most: f64) -> Habits {
        let with = |jitter: f64| Habits { jitter, ..self };
        let none = with(0.0).cost(steps.iter().copied());
        if none.nats < CALM_ENOUGH * steps.len() as f64 {
            return with(0.0);
        }
        let best = JITTERS.into_iter().filter(|&jitter| jitter <= most);
        let best = best.map(|jitter| (jitter, with(jitter).cost(steps.iter().copied()).surprise));
        let best = best.min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((0.0, none.surprise));
        let worth = none.surprise - best.1 > WORTH_PER_STEP * steps.len() as f64;
        with(if worth { best.0 } else { 0.0 })
    }
}

/// Cost in nats of being so many standard deviations off.
pub(super) fn unlikely(z: f64) -> f64 {
    0.5 * (TAIL + 1.0) * (z * z / TAIL).ln_1p()
}

/// At most the natural logarithm of a number from 1 on, by 6 in 100 of one at most: the exponent of a
/// floating-point number and the part behind it, read as one number, lie under its logarithm to the
/// base 2.
fn log_at_most(number: f64) -> f64 {
    /// Under which [`Habits::follow`] stays however its own sums are rounded.
    const SPARE: f64 = 1e-9;
    const MANTISSA: f64 = (1_u64 << (f64::MANTISSA_DIGITS - 1)) as f64;
    const BIAS: f64 = (f64::MAX_EXP - 1) as f64;
    (number.to_bits() as f64 / MANTISSA - BIAS) * std::f64::consts::LN_2 - SPARE
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_step_costs_less_than_the_least() {
        let stride = |speed: f64, length: f64| Stride::new(speed.ln(), length);
        for habits in [Habits::USUAL, Habits::CALM, Habits::WILD] {
            for now in [150.0, 900.0, 1490.0, 1500.0, 1600.0, 4000.0, 60_000.0] {
                for length in [10.0, 30.0] {
                    let steps = (stride(1500.0, 10.0), stride(now, length));
                    let nats = habits.follow(steps.0, steps.1, 1500.0_f64.ln()).nats;
                    let least = habits.follow_at_least(steps.0, steps.1);
                    assert!(least <= nats, "{now}: {least} {nats}");
                    // The torque is within its bounds: the scatter may be so much wider at most.
                    let wider = (TORQUE_BOUNDS.1 / TORQUE_BOUNDS.0).ln();
                    assert!(least > nats - (TAIL + 1.0) * wider - 0.2, "{now}: {least} {nats}");
                }
            }
            for number in [1.0, 1.3, 1.99, 2.0, 3.0, 1e9] {
                let off = f64::ln(number) - log_at_most(number);
                assert!((0.0..0.07).contains(&off), "{number}: {off}");
            }
        }
    }

    /// Steps of ten degrees whose edges have a scatter of their own, drawn by a fixed rule, at 1500
    /// degrees per second.
    fn steps(scatter: f64) -> Vec<Option<(Stride, f64)>> {
        // Golden-ratio fractions turned to a spread of one: uniform has a standard deviation of
        // 1/√12.
        let place = |i: u32| {
            let fraction = (f64::from(i) * 0.618_033_988_75).fract();
            10.0 * f64::from(i) + scatter * (fraction - 0.5) * 12.0_f64.sqrt()
        };
        let stride = |i: u32| {
            let took = (place(i + 1) - place(i)) / 1500.0;
            Stride::new((10.0 / took).ln(), 10.0)
        };
        (0..200).map(|i| Some((stride(i), 1500.0_f64.ln()))).collect()
    }

    #[test]
    fn jitter_is_found_where_there_is_some() {
        let found = |steps: &[_]| Habits::USUAL.with_jitter_of(steps, f64::INFINITY).jitter;
        assert_eq!(found(&steps(0.05)), 0.0);
        assert!((0.8..=1.8).contains(&found(&steps(1.2))), "{}", found(&steps(1.2)));
        assert_eq!(found(&[]), 0.0);
        assert_eq!(Habits::USUAL.with_jitter_of(&steps(1.2), 0.5).jitter, 0.5);
        assert_eq!(Habits::USUAL.with_jitter_of(&steps(1.2), 0.3).jitter, 0.0);
    }

    #[test]
    fn the_same_torque_changes_a_slow_crank_more() {
        let stride = |speed: f64| Stride::new(speed.ln(), 10.0);
        let nats = |before: f64, now: f64| {
            Habits::USUAL.follow(stride(before), stride(now), 1500.0_f64.ln()).nats
        };
        let (slow, fast) = (nats(800.0, 960.0), nats(2500.0, 3000.0));
        assert!(slow < fast, "{slow} {fast}");
    }
}
