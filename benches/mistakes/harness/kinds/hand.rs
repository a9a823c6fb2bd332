//! How a mistake is made: what was right, with one thing changed.

use camwitness::leads::LeadRequest;

use super::super::spec::{Cam, Place, Spec};
use super::{Before, HandedIn};

pub fn plain(before: &Before) -> HandedIn {
    HandedIn {
        spec: before.right.clone(),
        captures: vec![before.capture.clone()],
        leads: vec![],
        codes: vec![],
    }
}

/// Changes the description.
pub fn typed(before: &Before, change: impl FnOnce(&mut Spec)) -> Option<HandedIn> {
    let mut handed = plain(before);
    change(&mut handed.spec);
    (handed.spec != *before.right).then_some(handed)
}

/// Every `at` by so much.
pub fn all_at(before: &Before, by: f64) -> Option<HandedIn> {
    typed(before, |spec| {
        for cam in &mut spec.cams {
            if let Place::At(at) = &mut cam.place {
                *at += by;
            }
        }
    })
}

/// Every figure through one function: `at`, and `later` through another.
pub fn every(before: &Before, at: fn(f64) -> f64, later: fn(f64) -> f64) -> Option<HandedIn> {
    typed(before, |spec| {
        for cam in &mut spec.cams {
            cam.place = match cam.place {
                Place::At(place) => Place::At(at(place)),
                Place::Later(other, by) => Place::Later(other, later(by)),
            };
        }
    })
}

/// The last cam's `later`.
pub fn last_later(before: &Before, change: impl Fn(f64) -> f64) -> Option<HandedIn> {
    let cam = before.right.cams.iter().rposition(|cam| matches!(cam.place, Place::Later(..)))?;
    typed(before, |spec| {
        if let Place::Later(_, later) = &mut spec.cams[cam].place {
            *later = change(*later);
        }
    })
}

/// The last `at` of several.
pub fn last_at(before: &Before, by: f64) -> Option<HandedIn> {
    let places = |cam: &Cam| matches!(cam.place, Place::At(_));
    if before.right.cams.iter().filter(|cam| places(cam)).count() < 2 {
        return None;
    }
    let cam = before.right.cams.iter().rposition(places)?;
    typed(before, |spec| {
        if let Place::At(at) = &mut spec.cams[cam].place {
            *at += by;
        }
    })
}

/// Leads put on by this order: the lead called like cam `i` is on the column of cam `on(i)`.
pub fn reordered(before: &Before, on: impl Fn(usize) -> Option<usize>) -> Option<HandedIn> {
    let cams = &before.right.cams;
    let order: Option<Vec<usize>> = (0..cams.len()).map(on).collect();
    let order = order?;
    if order.iter().enumerate().all(|(cam, &on)| cam == on) {
        return None;
    }
    let mut handed = plain(before);
    let lead = |(cam, &on): (usize, &usize)| LeadRequest {
        name: cams[cam].name.into(),
        column: cams[on].name.into(),
        amperes_per_volt: None,
    };
    handed.leads = order.iter().enumerate().map(lead).collect();
    Some(handed)
}

/// The one other cam that fits.
pub fn partner(spec: &Spec, cam: usize, fits: impl Fn(usize) -> bool) -> Option<usize> {
    let mut others = (0..spec.cams.len()).filter(|&other| other != cam && fits(other));
    others.next().filter(|_| others.next().is_none())
}

pub fn other_bank(spec: &Spec, cam: usize) -> Option<usize> {
    let of = &spec.cams;
    partner(spec, cam, |other| of[other].bank != of[cam].bank && of[other].shaft == of[cam].shaft)
}

pub fn other_shaft(spec: &Spec, cam: usize) -> Option<usize> {
    let of = &spec.cams;
    partner(spec, cam, |other| of[other].bank == of[cam].bank && of[other].shaft != of[cam].shaft)
}

/// Two leads exchanged, the rest right.
pub fn pair(before: &Before, first: usize, second: usize) -> Option<HandedIn> {
    reordered(before, |cam| {
        Some(if cam == first {
            second
        } else if cam == second {
            first
        } else {
            cam
        })
    })
}

/// A channel changed.
pub fn channel(before: &Before, name: &str, change: impl Fn(&mut Vec<f32>)) -> Option<HandedIn> {
    let mut handed = plain(before);
    let found = handed.captures[0].channels.iter_mut().find(|channel| channel.name == name)?;
    change(found.values.to_mut());
    Some(handed)
}

/// The gap described so many slots later than it is, for a wheel with one gap.
pub fn gap(before: &Before, later: i32) -> Option<HandedIn> {
    let wheel = before.right.crank_wheel.trim_matches('"');
    let (slots, gone) = wheel.split_once('-')?;
    let (slots, gone): (i32, i32) = (slots.parse().ok()?, gone.parse().ok()?);
    let missing: Vec<String> = (0..gone)
        .map(|at| ((slots - gone + at + later).rem_euclid(slots) + 1).to_string())
        .collect();
    let table = format!(
        "{{ name = \"crank wheel\", slots = {slots}, missing = [{}] }}",
        missing.join(", ")
    );
    typed(before, |spec| spec.crank_wheel = table)
}
