//! How the energy of a crank swings over a cycle, before it is seen.
//!
//! The energy, the square of the speed, is the sum of what each cylinder takes and gives back, the
//! same for all of them at even distances, or for all but one: a Gaussian process (Rasmussen and
//! Williams 2006, chapter 2) over the crank's angle, once for every number of cylinders and size of
//! swing.

use crate::units::CYCLE_DEG;

/// Numbers of cylinders, and how common they are on engines with two such sensors (common practice,
/// no source).
const CYLINDERS: [(u32, f64); 7] =
    [(1, 0.02), (2, 0.02), (3, 0.10), (4, 0.45), (5, 0.05), (6, 0.23), (8, 0.13)];
/// Swings of the energy, standard deviation over its mean: from an engine that is spun without
/// plugs to one recorded at 127 to 521 rpm.
const SWINGS: [f64; 6] = [0.03, 0.1, 0.2, 0.4, 0.7, 1.1];
/// Half-widths of the energy a compression stores, in crank degrees, as the standard deviation of a
/// bell: a tight chamber, and one whose pressure leaks or that is fed by a slow starter (judgement).
const WIDTHS: [f64; 2] = [30.0, 50.0];
/// Share of engines with one cylinder that does not compress, among those that are looked at.
const ONE_OUT: f64 = 0.1;
/// Cylinders differ by this share of what one of them stores.
const UNEVEN: f64 = 0.1;
/// The same of a sound engine and of a worn one, where it matters that they may be alike.
const UNEVENNESS: [f64; 2] = [0.02, 0.1];
/// Spread of the mean energy, in its own unit: what the mean speed makes of it is a little off.
const MEAN_SPREAD: f64 = 0.5;
/// Scatter of a step's log in the mean cycle: places of teeth, and what a bell is not.
pub(super) const STEP_SCATTER: f64 = 0.04;

/// The firing that a course begins with is tried at every so many crank degrees, and at so many
/// places of a firing's interval at least.
const PHASE_DEG: f64 = 15.0;
const LEAST_PHASES: usize = 12;
/// Spread of a swing's size about those that are tried, which are half or twice the next.
const BETWEEN_SWINGS: f64 = 0.3;
/// What a compression is not like its bell in, as a share of the swing (judgement: gas leaks and
/// cools, so that what is given back is less and later; a starter pulls unevenly).
const OTHER_SHAPE: f64 = 0.2;

/// Every way the energy may swing over the steps of a cycle.
pub(crate) struct Swings {
    /// With how common so many cylinders and such bells are, and how many.
    shapes: Vec<(f64, u32, Shapes)>,
    middles: Vec<f64>,
    lengths: Vec<f64>,
}

/// A course of the energy: which cylinders there are, when they compress, and how hard.
#[derive(Debug, Clone)]
pub(crate) struct Course<'a> {
    /// How common it is; all of them together are 1.
    pub weight: f64,
    /// Mean energy over each step, of the mean one.
    pub energy: Vec<f64>,
    /// Standard deviation of that for not knowing where the firings are to a degree.
    slope: Vec<f64>,
    shapes: &'a Shapes,
    swing: f64,
    uneven: f64,
}

/// One of them.
#[derive(Clone, Copy)]
pub(crate) struct Swing<'a> {
    /// How common it is; all of them together are 1.
    pub weight: f64,
    shapes: &'a Shapes,
    variance: f64,
    single: f64,
}

impl Swings {
    /// Over parts of a cycle, by their middles and lengths in crank degrees.
    pub(crate) fn at(parts: &[(f64, f64)]) -> Swings {
        let (middles, lengths): (Vec<f64>, Vec<f64>) = parts.iter().copied().unzip();
        let of = |width: f64, (cylinders, common): (u32, f64)| {
            let shapes = Shapes::of(cylinders.into(), width, &middles, &lengths);
            (common / WIDTHS.len() as f64, cylinders, shapes)
        };
        let shapes = WIDTHS.iter().flat_map(|&width| CYLINDERS.map(|kind| of(width, kind)));
        Swings { shapes: shapes.collect(), middles, lengths }
    }

    /// Every course: as the swings, and with each firing where it may be. What is known of it is
    /// more: which way a compression goes, and where the one is that does not.
    pub(crate) fn courses(&self) -> impl Iterator<Item = Course<'_>> {
        self.shapes.iter().flat_map(move |(common, cylinders, shapes)| {
            let interval = CYCLE_DEG / f64::from(*cylinders);
            let phases = LEAST_PHASES.max((interval / PHASE_DEG).ceil() as usize);
            let out_too = if *cylinders > 1 { *cylinders } else { 0 };
            let each =
                (0..phases).flat_map(move |phase| (0..=out_too).map(move |out| (phase, out)));
            each.flat_map(move |(phase, out)| {
                let first = interval * phase as f64 / phases as f64;
                let fires: Vec<f64> = (1..=*cylinders)
                    .filter(|&number| number != out)
                    .map(|number| first + interval * f64::from(number))
                    .collect();
                let (curve, slope) = self.curve(shapes, &fires);
                // Between the places tried all are as likely: an even spread.
                let between = (interval / phases as f64).to_radians() / 12_f64.sqrt();
                let share = match (out, out_too) {
                    (_, 0) => 1.0,
                    (0, _) => 1.0 - ONE_OUT,
                    _ => ONE_OUT / f64::from(out_too),
                };
                let ways =
                    SWINGS.into_iter().flat_map(|swing| UNEVENNESS.map(|uneven| (swing, uneven)));
                ways.map(|(swing, uneven)| Course {
                    weight: common * share / (phases * SWINGS.len() * UNEVENNESS.len()) as f64,
                    energy: curve.iter().map(|one| 1.0 + swing * one).collect(),
                    slope: slope.iter().map(|one| swing * one * between).collect(),
                    shapes,
                    swing,
                    uneven: f64::from(*cylinders) * uneven * uneven,
                })
                .collect::<Vec<_>>()
            })
        })
    }

    /// The energy over each step with compressions at these angles, with a mean of zero and a
    /// standard deviation of one over the cycle; and its change for each radian that they are
    /// later.
    fn curve(&self, shapes: &Shapes, fires: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let mut curve = vec![0.0; self.lengths.len()];
        let mut slope = curve.clone();
        let mut variance = 0.0;
        for (n, power) in (1..).zip(&shapes.powers) {
            let order = f64::from(n) / 2.0;
            let (along, across) = fires.iter().fold((0.0, 0.0), |sum, fire| {
                let (sin, cos) = (order * fire.to_radians()).sin_cos();
                (sum.0 + cos, sum.1 + sin)
            });
            variance += power * (along * along + across * across);
            for i in 0..curve.len() {
                let (sin, cos) = (order * self.middles[i].to_radians()).sin_cos();
                let height = (2.0 * power).sqrt() * over_step(order, self.lengths[i]);
                curve[i] -= height * (along * cos + across * sin);
                slope[i] -= height * order * (along * sin - across * cos);
            }
        }
        let sd = variance.sqrt().max(f64::MIN_POSITIVE);
        let scaled = |values: &[f64]| values.iter().map(|value| value / sd).collect();
        (scaled(&curve), scaled(&slope))
    }

    /// All of them.
    pub(crate) fn each(&self) -> impl Iterator<Item = Swing<'_>> {
        self.shapes.iter().flat_map(|(common, cylinders, shapes)| {
            let cylinders = f64::from(*cylinders);
            SWINGS.iter().flat_map(move |swing| {
                [(0.0, 1.0 - ONE_OUT), (1.0, ONE_OUT)].map(|(out, share)| Swing {
                    weight: common * share / SWINGS.len() as f64,
                    shapes,
                    variance: swing * swing,
                    single: out + cylinders * UNEVEN * UNEVEN,
                })
            })
        })
    }
}

impl Swing<'_> {
    /// Covariance of the mean energies over two steps, `i` at or behind `j`, in units of the mean
    /// energy's square.
    pub(crate) fn covariance(&self, i: usize, j: usize) -> f64 {
        MEAN_SPREAD * MEAN_SPREAD + self.variance * self.shapes.covariance(i, j, self.single)
    }
}

impl Course<'_> {
    /// Covariance of the mean energies over two steps, `i` at or behind `j`, about this course.
    pub(crate) fn covariance(&self, i: usize, j: usize) -> f64 {
        let (swing, at) = (self.swing * self.swing, i * self.shapes.steps + j);
        let size =
            (BETWEEN_SWINGS * BETWEEN_SWINGS) * (self.energy[i] - 1.0) * (self.energy[j] - 1.0);
        let whole = self.shapes.variances.0 + self.uneven * self.shapes.variances.1;
        let other = OTHER_SHAPE * OTHER_SHAPE * self.shapes.firing[at]
            + self.uneven * self.shapes.single[at];
        let late = self.slope[i] * self.slope[j];
        MEAN_SPREAD * MEAN_SPREAD + size + late + swing * other / whole
    }
}

/// Middles and lengths of steps that follow one another from zero on.
pub(crate) fn laid_out(lengths: &[f64]) -> Vec<(f64, f64)> {
    let steps = lengths.iter().scan(0.0, |at, &length| {
        *at += length;
        Some((*at - length / 2.0, length))
    });
    steps.collect()
}

/// The mean of a wave of that order of the crank over a step, against its height at the middle.
fn over_step(order: f64, length: f64) -> f64 {
    let half = order * length.to_radians() / 2.0;
    half.sin() / half
}

/// Covariances between the steps of a cycle.
#[derive(Debug)]
struct Shapes {
    steps: usize,
    /// Power of one bell in each order of half the crank's turn.
    powers: Vec<f64>,
    /// Of all cylinders alike, at any phase; of one cylinder alone, at any phase; variance of each
    /// at an instant.
    firing: Vec<f64>,
    single: Vec<f64>,
    variances: (f64, f64),
}

impl Shapes {
    /// Bells of so many degrees, `cylinders` of them in a cycle, averaged over each step.
    fn of(cylinders: f64, width: f64, middles: &[f64], lengths: &[f64]) -> Shapes {
        /// Orders of half the crank's turn beyond which a bell has nothing.
        const ORDERS: u32 = 24;
        let steps = middles.len();
        let (mut firing, mut single) = (vec![0.0; steps * steps], vec![0.0; steps * steps]);
        let mut variances = (0.0, 0.0);
        let mut powers = Vec::new();
        for n in 1..=ORDERS {
            // Radians of this order's wave in a degree of the crank; the power of one bell in it.
            let order = f64::from(n) / 2.0;
            let power = (-(order * width.to_radians()).powi(2)).exp();
            // As many alike add up where they are in step, and nowhere else.
            let fires = f64::from(n) % cylinders == 0.0;
            let together = if fires { cylinders * cylinders * power } else { 0.0 };
            variances.0 += together;
            variances.1 += power;
            powers.push(power);
            for i in 0..steps {
                for j in 0..=i {
                    let turned = (order * (middles[i] - middles[j]).to_radians()).cos();
                    let both = turned * over_step(order, lengths[i]) * over_step(order, lengths[j]);
                    firing[i * steps + j] += together * both;
                    single[i * steps + j] += power * both;
                }
            }
        }
        Shapes { steps, powers, firing, single, variances }
    }

    /// Between two steps, with `single` times one cylinder's on top of what all make, for a swing
    /// with a variance of one.
    fn covariance(&self, i: usize, j: usize, single: f64) -> f64 {
        let at = i * self.steps + j;
        let whole = self.variances.0 + single * self.variances.1;
        (self.firing[at] + single * self.single[at]) / whole
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn courses_are_all_there_is_and_lowest_where_a_cylinder_compresses() {
        let steps = 48;
        let swings = Swings::at(&laid_out(&vec![CYCLE_DEG / f64::from(steps); steps as usize]));
        let all: f64 = swings.courses().map(|course| course.weight).sum();
        assert!((all - 1.0).abs() < 1e-9, "{all}");
        let all: f64 = swings.each().map(|swing| swing.weight).sum();
        assert!((all - 1.0).abs() < 1e-9, "{all}");
        // Three cylinders, bells of 30°: at 7.5° a step the swing is seen whole.
        let shapes = &swings.shapes[2].2;
        let (curve, slope) = swings.curve(shapes, &[52.5, 292.5, 532.5]);
        let square = curve.iter().map(|one| one * one).sum::<f64>() / curve.len() as f64;
        assert!((square - 1.0).abs() < 0.02, "{square}");
        let least = (0..curve.len()).min_by(|&a, &b| curve[a].total_cmp(&curve[b]));
        let at = swings.middles[least.expect("steps")];
        assert!((at.rem_euclid(240.0) - 52.5).abs() < 4.0, "{at}");
        // Later by a hundredth of a radian.
        let later = [52.5, 292.5, 532.5].map(|fire: f64| fire + 0.01_f64.to_degrees());
        for (i, moved) in swings.curve(shapes, &later).0.iter().enumerate() {
            assert!((curve[i] + 0.01 * slope[i] - moved).abs() < 1e-3, "{i}");
        }
    }
}
