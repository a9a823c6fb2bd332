//! Which engine of the shelf a capture is likely of: by its crank wheel, its cams' wheels and how
//! often its speed dips.

use super::EngineEntry;
use crate::engine::{Engine, Sensor};
use crate::look::{CamWheel, Look};
use crate::units::TURN_DEG;
use crate::wheel::{EdgeKind, Wheel};

/// Edges this far from a wheel's on average are of another wheel, in degrees of the cam. Real
/// wheels of one drawing agree to half a degree; the rest is for the speed within a turn and the
/// noise of a bad lead (common practice, no source).
const MOST_OFF: f64 = 3.0;
/// Marks of a crank wheel's slots that lie this near are of one wheel, in degrees.
const SAME_MARK: f64 = 0.5;

/// How well an engine fits a capture.
#[derive(Debug, Clone, PartialEq)]
pub struct Likely {
    /// Name on the shelf.
    pub name: String,
    /// Cams of the capture whose wheel the engine has.
    pub cams: usize,
    /// Root mean square by which their edges lie off, in degrees of the cam.
    pub off_deg: f64,
    /// The speed dips as often in a cycle as the engine has cylinders; `None` where the capture
    /// does not show it.
    pub cylinders_fit: Option<bool>,
}

/// The engines that a capture may be of, the likeliest first. Empty where the crank's wheel is not
/// sure or no engine has it; several where their wheels do not tell them apart.
#[must_use]
pub fn likely(seen: &Look, engines: &[EngineEntry]) -> Vec<Likely> {
    let Ok(guess) = &seen.wheel else { return vec![] };
    let mut fitting: Vec<Likely> = engines
        .iter()
        .filter_map(|entry| {
            let engine = entry.engine.as_ref().ok()?;
            let crank = engine.crank.described && alike(&engine.crank.wheel, &guess.wheel);
            let (cams, off_deg) = crank.then(|| cams_fit(&seen.cams, engine)).flatten()?;
            let cylinders_fit =
                seen.cylinders().map(|count| count as usize == engine.firing_order.len());
            Some(Likely { name: entry.name.clone(), cams, off_deg, cylinders_fit })
        })
        .collect();
    // What the signals contradict goes, if anything else is left.
    if fitting.iter().any(|one| one.cylinders_fit == Some(true)) {
        fitting.retain(|one| one.cylinders_fit == Some(true));
    }
    fitting.sort_by(|a, b| {
        b.cams.cmp(&a.cams).then(a.off_deg.total_cmp(&b.off_deg)).then(a.name.cmp(&b.name))
    });
    // A wheel that lies twice as near, and clearly so, is the one: a relative of it is not offered
    // beside it.
    if let Some(best) = fitting.first().cloned() {
        fitting
            .retain(|one| one.cams == best.cams && one.off_deg <= 2.0 * best.off_deg + SAME_MARK);
    }
    fitting
}

/// Whether two crank wheels are one, wherever their counting begins.
fn alike(one: &Wheel, other: &Wheel) -> bool {
    let marks = |wheel: &Wheel| -> Vec<f64> {
        wheel.zero_crossings(EdgeKind::Falling).iter().map(|edge| edge.at.get()).collect()
    };
    let (one, other) = (marks(one), marks(other));
    one.len() == other.len()
        && (0..one.len()).any(|by| {
            let turn = other[by] - one[0];
            (0..one.len())
                .all(|i| apart(other[(i + by) % other.len()] - one[i] - turn).abs() <= SAME_MARK)
        })
}

/// How many of the capture's cams find a wheel of the engine, each its own, and how far off they
/// lie; `None` where one finds none.
fn cams_fit(seen: &[CamWheel], engine: &Engine) -> Option<(usize, f64)> {
    let mut free: Vec<usize> = (0..engine.cams.len()).collect();
    let mut squares = Vec::new();
    for cam in seen {
        let offs =
            free.iter().enumerate().map(|(at, &index)| (at, off(cam, &engine.cams[index].wheel)));
        let (at, off) = offs.min_by(|a, b| a.1.total_cmp(&b.1))?;
        if off > MOST_OFF {
            return None;
        }
        free.remove(at);
        squares.push(off * off);
    }
    let mean = squares.iter().sum::<f64>() / squares.len().max(1) as f64;
    Some((squares.len(), mean.sqrt()))
}

/// How far the edges of a cam lie from a wheel's at their best, root mean square in degrees of the
/// cam. Infinite for another number of teeth.
fn off(cam: &CamWheel, wheel: &Wheel) -> f64 {
    let teeth = wheel.teeth(EdgeKind::Falling);
    let middles: Vec<(f64, f64)> =
        teeth.iter().map(|tooth| (tooth.middle().get(), tooth.width.0)).collect();
    let high: Vec<(f64, f64)> =
        cam.teeth.iter().map(|&(start, end)| (start.midpoint(end), end - start)).collect();
    // A lead that is upside down shows the gaps as teeth.
    let low: Vec<(f64, f64)> = (0..cam.teeth.len())
        .map(|i| {
            let next = cam.teeth[(i + 1) % cam.teeth.len()].0;
            let width = (next - cam.teeth[i].1).rem_euclid(TURN_DEG);
            (cam.teeth[i].1 + width / 2.0, width)
        })
        .collect();
    // The width of a tooth is not seen by a reluctance sensor, nor stated by every wheel.
    let widths = cam.sensor != Sensor::Reluctance && wheel.has_widths();
    let upright = best_turn(&high, &middles, widths);
    if widths { upright.min(best_turn(&low, &middles, true)) } else { upright }
}

/// The least root mean square distance over every way round; each tooth is its middle and its
/// width.
fn best_turn(seen: &[(f64, f64)], wheel: &[(f64, f64)], widths: bool) -> f64 {
    if seen.len() != wheel.len() || seen.is_empty() {
        return f64::INFINITY;
    }
    let count = seen.len();
    (0..count)
        .map(|by| {
            let offs: Vec<f64> =
                (0..count).map(|i| apart(seen[(i + by) % count].0 - wheel[i].0)).collect();
            // Differences from the first, so that a mean across 360° is one.
            let turn = offs.iter().map(|one| apart(one - offs[0])).sum::<f64>() / count as f64;
            let of_middles = offs.iter().map(|one| apart(one - offs[0] - turn).powi(2));
            let of_widths = (0..count).map(|i| {
                if widths { ((seen[(i + by) % count].1 - wheel[i].1) / 2.0).powi(2) } else { 0.0 }
            });
            ((of_middles.sum::<f64>() + of_widths.sum::<f64>()) / count as f64).sqrt()
        })
        .fold(f64::INFINITY, f64::min)
}

/// An angle between −180° and 180°.
fn apart(degrees: f64) -> f64 {
    (degrees + TURN_DEG / 2.0).rem_euclid(TURN_DEG) - TURN_DEG / 2.0
}
