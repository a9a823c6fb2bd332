//! What a hypothesis is.
//!
//! A [`Cause`] is what is reported; one cause has one or more [`Variant`]s (alone, with a
//! worn chain, with a phaser off its rest), each a model of the rows with its share
//! of the prior. A [`Draft`] is a variant under way, before the shares are priors.

use std::rc::Rc;

use super::model::Model;
use crate::verdict::readings::{Delayed, Steadiness};
use crate::verdict::{Kind, Mistake};

/// Fits closer than this (crank degrees) are equal: two leads look the same either way round.
pub(crate) const EQUAL_FIT_DEG: f64 = 2.0;

/// What may have happened, as it is reported.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Cause {
    pub kind: Kind,
    /// The shaft, cam or lead concerned.
    pub on: Option<String>,
    /// Index of the chain concerned.
    pub chain: Option<usize>,
    /// Teeth, positive late.
    pub teeth: Option<i32>,
    /// Cams whose shaft or reading is displaced.
    pub moves: Vec<usize>,
    /// Other shafts whose sprocket would give the same.
    pub same_as: Vec<String>,
    /// Second lead of a crossed pair.
    pub crossed_with: Option<usize>,
    /// What is wrong with the description or the leads.
    pub mistake: Option<Mistake>,
}

impl Cause {
    /// A cause without teeth, chain or a second lead.
    pub(crate) fn of(kind: Kind, on: Option<String>, moves: Vec<usize>) -> Cause {
        Cause {
            kind,
            on,
            chain: None,
            teeth: None,
            moves,
            same_as: vec![],
            crossed_with: None,
            mistake: None,
        }
    }
}

/// The fault that comes along with a cause.
#[derive(Debug, Clone, PartialEq)]
pub enum SecondFault {
    /// None does.
    None,
    /// A chain worn, by index where the drive is described.
    Wear(Option<usize>),
    /// Phasers of these cams away from rest.
    Phasers(Vec<usize>),
    /// The crank's reference moved.
    CrankReference,
    /// The trigger wheel of this cam moved.
    CamWheel(usize),
    /// A damaged tooth on the wheel of this cam.
    DamagedTooth(usize),
    /// A skip at another place.
    Skip {
        /// The shaft whose sprocket it is.
        on: String,
        /// Index of its chain.
        chain: usize,
        /// Teeth, positive late.
        teeth: i32,
    },
    /// The leads of these two cams crossed.
    Crossed(usize, usize),
    /// The typed places all off alike.
    Places,
    /// Typed figures that misplace some cams more than others.
    Figure(Mistake),
    /// The lead of this cam delayed, or without one the crank's.
    Delayed(Option<usize>),
}

/// One way a cause shows in the rows.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Variant {
    /// Index into the list of causes.
    pub cause: usize,
    /// Share of all prior probability.
    pub prior: f64,
    pub second: SecondFault,
    pub model: Model,
    /// Cams that do not stand steadily, and why.
    pub moving: Vec<(usize, Steadiness)>,
    /// Cam with a damaged tooth.
    pub damaged: Option<usize>,
    /// Cams that a delayed lead shows elsewhere.
    pub delayed: Vec<Delayed>,
    /// Index of the crossed pair whose readings apply.
    pub swap: Option<usize>,
    /// Cams whose wheels are not those described.
    pub foreign: Vec<usize>,
}

/// A variant under way: its share of its own cause's kind.
#[derive(Clone)]
pub(crate) struct Draft {
    /// One and the same of all drafts that are made of one another.
    pub cause: Rc<Cause>,
    pub share: f64,
    pub second: SecondFault,
    pub model: Model,
    pub moving: Vec<(usize, Steadiness)>,
    pub damaged: Option<usize>,
    pub delayed: Vec<Delayed>,
    pub swap: Option<usize>,
    pub foreign: Vec<usize>,
}

impl Draft {
    /// A cause alone, nothing moved yet.
    pub(crate) fn alone(cause: Cause, share: f64, model: Model) -> Draft {
        Draft {
            cause: Rc::new(cause),
            share,
            second: SecondFault::None,
            model,
            moving: vec![],
            damaged: None,
            delayed: vec![],
            swap: None,
            foreign: vec![],
        }
    }
}
