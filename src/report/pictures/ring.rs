//! A toothed wheel as a ring, clockwise from the top in the order in which teeth pass the sensor.

use super::drawing::{At, Drawing, Ink};
use crate::units::TURN_DEG;

/// A ring of teeth.
#[derive(Debug, Clone)]
pub(super) struct Ring<'a> {
    pub centre: At,
    /// Radius between the teeth, and over them.
    pub radii: (f64, f64),
    /// Start and width of each tooth, in degrees of the shaft.
    pub teeth: &'a [(f64, f64)],
    /// How far the ring is turned, clockwise, in degrees of the shaft.
    pub turned: f64,
}

impl Ring<'_> {
    /// Teeth filled: what was measured.
    pub fn solid(&self, drawing: &mut Drawing, ink: Ink) {
        self.base(drawing, ink, 1.2);
        for &(start, width) in self.teeth {
            let mut outline = self.arc(self.radii.1, start, width);
            outline.extend(self.arc(self.radii.0, start, width).into_iter().rev());
            drawing.area(&outline, ink);
        }
    }

    /// Teeth as an outline: what is expected.
    pub fn hollow(&self, drawing: &mut Drawing, ink: Ink) {
        self.base(drawing, ink, 1.0);
        for &(start, width) in self.teeth {
            let inner = self.arc(self.radii.0, start, width);
            let mut outline = vec![inner[0]];
            outline.extend(self.arc(self.radii.1, start, width));
            outline.push(inner[inner.len() - 1]);
            drawing.line(&outline, ink, 1.2);
        }
    }

    fn base(&self, drawing: &mut Drawing, ink: Ink, width: f64) {
        drawing.line(&self.arc(self.radii.0, 0.0, TURN_DEG), ink, width);
    }

    fn arc(&self, radius: f64, start: f64, width: f64) -> Vec<At> {
        arc(self.centre, radius, self.turned + start, width)
    }
}

/// Points of an arc, clockwise from `start` degrees after the top.
pub(super) fn arc(centre: At, radius: f64, start: f64, width: f64) -> Vec<At> {
    /// Degrees between points; the chord of 3° strays 0.03 % of the radius from the arc.
    const STEP: f64 = 3.0;
    let steps = (width.abs() / STEP).ceil().max(1.0) as usize;
    (0..=steps)
        .map(|step| on_circle(centre, radius, start + width * step as f64 / steps as f64))
        .collect()
}

/// A point on a circle, clockwise from the top.
pub(super) fn on_circle((x, y): At, radius: f64, degrees: f64) -> At {
    let (sin, cos) = degrees.to_radians().sin_cos();
    (x + radius * sin, y - radius * cos)
}
