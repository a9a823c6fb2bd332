//! The verdict in short sentences: degrees with "early" or "late", never surer than the odds.

use super::deviations::CamDeviation;
use super::evidence::Evidence;
use super::hypotheses::{Cause, SecondFault};
use super::{Beside, Kind, State};
use crate::engine::Engine;
use crate::units::CrankDelta;

/// "A", "A and B", "A, B and C".
pub(crate) fn list<S: AsRef<str>>(names: &[S]) -> String {
    match names {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [most @ .., last] => {
            let most: Vec<&str> = most.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", most.join(", "), last.as_ref())
        }
    }
}

/// "1 tooth late", "3 teeth early".
fn teeth_text(teeth: i32) -> String {
    let count = teeth.unsigned_abs();
    let noun = if count == 1 { "tooth" } else { "teeth" };
    format!("{count} {noun} {}", if teeth > 0 { "late" } else { "early" })
}

/// What the words are about.
pub(super) struct Told<'a> {
    pub evidence: &'a Evidence<'a>,
    pub shown: &'a [CamDeviation],
}

impl Told<'_> {
    fn engine(&self) -> &Engine {
        self.evidence.engine
    }

    fn cam(&self, cam: usize) -> Option<&CamDeviation> {
        self.shown.iter().find(|shown| shown.cam == cam)
    }

    /// "B1 intake 18.2° late".
    fn stands(&self, shown: &CamDeviation) -> String {
        let name = &self.engine().cams[shown.cam].name;
        let place = if shown.deviation.word().is_empty() {
            "in place".to_owned()
        } else {
            shown.deviation.to_string()
        };
        match shown.against {
            Some(other) if other != shown.cam => {
                format!("{name} {place} against {}", self.engine().cams[other].name)
            }
            Some(_) => format!("{name} of unknown place"),
            None => format!("{name} {place}"),
        }
    }

    /// The measured cams among some, or that none is.
    fn all_stand(&self, cams: &[usize]) -> String {
        let told: Vec<String> =
            cams.iter().filter_map(|&cam| self.cam(cam)).map(|shown| self.stands(shown)).collect();
        if told.is_empty() {
            "not measured, so only its prior odds speak".into()
        } else {
            list(&told)
        }
    }

    fn chain_name(&self, chain: usize) -> String {
        self.engine().drive.chains[chain].told()
    }

    fn worn_name(&self, chain: Option<usize>) -> String {
        chain.map_or_else(|| "chain".into(), |chain| self.chain_name(chain))
    }

    pub(super) fn second_fault(&self, second: &SecondFault) -> String {
        match second {
            SecondFault::None => String::new(),
            SecondFault::Wear(chain) => {
                format!(" The rest fits a worn {}.", self.worn_name(*chain))
            }
            SecondFault::Phasers(cams) => {
                let names: Vec<&str> =
                    cams.iter().map(|&cam| self.engine().cams[cam].name.as_str()).collect();
                format!(" The rest fits a phaser away from rest on {}.", list(&names))
            }
            SecondFault::CrankReference => {
                " The rest fits a moved crank wheel, key or TDC reference.".into()
            }
            SecondFault::CamWheel(cam) => {
                format!(" The rest fits a moved trigger wheel of {}.", self.cams(&[*cam]))
            }
            SecondFault::DamagedTooth(cam) => {
                format!(" The rest fits a damaged tooth on the wheel of {}.", self.cams(&[*cam]))
            }
            SecondFault::Skip { on, chain, teeth } => format!(
                " The rest fits a second skip, of the {} at {on}, {}.",
                self.chain_name(*chain),
                teeth_text(*teeth)
            ),
            SecondFault::Crossed(swap) => {
                let cams = self.evidence.swapped[*swap].cams;
                format!(" This is with the leads of {} exchanged.", self.cams(&[cams.0, cams.1]))
            }
        }
    }

    /// The same by kind and cams, for who writes words of their own.
    pub(super) fn beside(&self, second: &SecondFault) -> Option<Beside> {
        let engine = self.engine();
        let names =
            |cams: &[usize]| cams.iter().map(|&cam| engine.cams[cam].name.clone()).collect();
        let (kind, cams) = match second {
            SecondFault::None => return None,
            SecondFault::Wear(_) => (Kind::Wear, vec![]),
            SecondFault::Phasers(cams) => (Kind::PhaserOffRest, names(cams)),
            SecondFault::CrankReference => (Kind::CrankReferenceMoved, vec![]),
            SecondFault::CamWheel(cam) => (Kind::CamWheelMoved, names(&[*cam])),
            SecondFault::DamagedTooth(cam) => (Kind::DamagedTooth, names(&[*cam])),
            // Where the second skip is, is the technician's.
            SecondFault::Skip { .. } => (Kind::Skip, vec![]),
            SecondFault::Crossed(swap) => {
                let cams = self.evidence.swapped[*swap].cams;
                (Kind::LeadsCrossed, names(&[cams.0, cams.1]))
            }
        };
        Some(Beside { kind, cams })
    }

    /// The number that speaks for or against a cause.
    pub(super) fn why(&self, cause: &Cause, second: &SecondFault) -> String {
        let stand = self.all_stand(&cause.moves);
        let body = match cause.kind {
            Kind::InTime => self.why_in_time(),
            Kind::Skip => self.why_skip(cause, &stand),
            Kind::Wear => {
                let least = self.scatter(&cause.moves);
                format!("Wear makes cams late by less than a tooth: {stand}{least}.")
            }
            Kind::PhaserOffRest => self.why_phaser(cause, &stand),
            Kind::CrankReferenceMoved => {
                format!("Every cam would be off alike: {stand}.")
            }
            Kind::CamWheelMoved => format!("The wheel of this cam alone, by any amount: {stand}."),
            Kind::DamagedTooth => self.why_damaged(cause),
            Kind::LeadsCrossed => "With the two leads exchanged both cams fit better.".into(),
        };
        body + &self.second_fault(second)
    }

    fn why_in_time(&self) -> String {
        let worst = self
            .shown
            .iter()
            .filter(|shown| shown.against != Some(shown.cam))
            .max_by(|a, b| a.deviation.0.abs().total_cmp(&b.deviation.0.abs()));
        match worst {
            None => "No cam could be held against a known place.".into(),
            Some(worst) => format!(
                "The largest deviation is {}; the tolerance is {:.1}°.",
                self.stands(worst),
                self.engine().cams[worst.cam].tolerance.0
            ),
        }
    }

    fn why_skip(&self, cause: &Cause, stand: &str) -> String {
        let (Some(chain), Some(teeth)) = (cause.chain, cause.teeth) else {
            return format!("A skip of unknown size, as no sprockets are described: {stand}.");
        };
        let step = self.engine().drive.chains[chain].step();
        let shift = step * f64::from(teeth);
        let also = if cause.same_as.is_empty() {
            String::new()
        } else {
            format!(" A skip on {} would look the same.", list(&cause.same_as))
        };
        format!(
            "{} is {shift} ({:.1}° a tooth): {stand}.{also}",
            capital(&teeth_text(teeth)),
            step.0
        )
    }

    fn why_phaser(&self, cause: &Cause, stand: &str) -> String {
        let travel = cause
            .moves
            .iter()
            .filter_map(|&cam| self.engine().cams[cam].phaser)
            .map(|phaser| phaser.full_travel())
            .max_by(|a, b| a.0.abs().total_cmp(&b.0.abs()));
        let whose = if cause.moves.len() > 1 {
            "A phaser can take its cam"
        } else {
            "Its phaser can take it"
        };
        let reach = travel.map_or_else(String::new, |travel| format!(" {whose} {travel}."));
        format!("{}.{reach}", capital(stand))
    }

    fn why_damaged(&self, cause: &Cause) -> String {
        let worst =
            cause.moves.first().and_then(|&cam| self.evidence.cam(cam)).and_then(|result| {
                result.measured.edges.iter().max_by(|a, b| a.off.0.abs().total_cmp(&b.off.0.abs()))
            });
        match worst {
            None => "Its edges were not measured.".into(),
            Some(edge) => format!("The worst edge of its wheel lies {} of the rest.", edge.off),
        }
    }

    fn scatter(&self, cams: &[usize]) -> String {
        let most = cams
            .iter()
            .filter_map(|&cam| self.evidence.cam(cam)?.measured.cycle_sd)
            .max_by(|a, b| a.0.total_cmp(&b.0));
        most.map_or_else(String::new, |sd| format!("; {} from cycle to cycle", varying(sd)))
    }

    /// Why "in time" is not said though nothing measured is off.
    pub(super) fn unseen(&self, skip: &Cause) -> String {
        let missing: Vec<&str> = skip
            .moves
            .iter()
            .filter(|&&cam| self.cam(cam).is_none())
            .map(|&cam| self.engine().cams[cam].name.as_str())
            .collect();
        let placed = |&cam: &usize| self.engine().expected(cam).is_some();
        let why = if missing.is_empty() && skip.moves.iter().all(placed) {
            "where the cams belong is not known well enough".to_owned()
        } else if missing.is_empty() {
            "the cams are only known against each other".to_owned()
        } else {
            format!("{} was not measured", list(&missing))
        };
        format!(
            "Cannot tell. Nothing measured is out of place, but {} would not show: {why}. {}",
            self.name(skip),
            self.why_in_time()
        )
    }

    /// Why "in time" is not said though only one reading speaks against it.
    pub(super) fn outlier(&self, cam: usize) -> String {
        let name = &self.engine().cams[cam].name;
        let reads = self.cam(cam).map_or_else(|| name.clone(), |shown| self.stands(shown));
        format!(
            "Cannot tell. One reading is out of place: {reads}, tolerance {:.1}°. It may be a faulty reading, but that is not \
             shown. Check the lead, sensor and wheel of {name} and the place its cam should have, then capture again.",
            self.engine().cams[cam].tolerance.0
        )
    }

    /// The finding in words.
    pub(super) fn sentence(
        &self,
        state: State,
        leading: &Cause,
        rival: &Cause,
        skips: f64,
    ) -> String {
        let moves: Vec<&str> =
            leading.moves.iter().map(|&cam| self.engine().cams[cam].name.as_str()).collect();
        match state {
            State::InTime => format!("In time. {}", self.why_in_time()),
            State::Jumped => {
                let chain = leading.chain.map_or_else(String::new, |chain| self.chain_name(chain));
                let shift =
                    leading.chain.zip(leading.teeth).map_or(CrankDelta(0.0), |(chain, teeth)| {
                        self.engine().drive.chains[chain].step() * f64::from(teeth)
                    });
                format!(
                    "The {chain} has very likely skipped at {}: {} ({shift}). {}. Displaced: {}. \
                     Do not run this engine.",
                    leading.on.as_deref().unwrap_or("a sprocket"),
                    leading.teeth.map(teeth_text).unwrap_or_default(),
                    capital(&self.all_stand(&leading.moves)),
                    list(&moves)
                )
            }
            State::OffNotJumped => {
                let stand = self.all_stand(&leading.moves);
                let stand = match leading.kind {
                    Kind::LeadsCrossed => format!("With them put right the reading is {stand}"),
                    _ => capital(&stand),
                };
                format!(
                    "Something is off, and it is very likely not a skipped chain. Likeliest: {}. {stand}.",
                    self.name(leading)
                )
            }
            State::CannotTell if self.shown.is_empty() => {
                "Cannot tell: no cam was measured.".into()
            }
            State::CannotTell if skips >= super::SURE && leading.teeth.is_none() => format!(
                "Cannot tell how far or where: a chain has very likely skipped, but the engine file describes none. \
                 {}. Do not run this engine.",
                capital(&self.all_stand(&leading.moves))
            ),
            State::CannotTell if skips >= super::SURE => format!(
                "Cannot tell where: a chain has very likely skipped, but {} and {} are both possible. \
                 Do not run this engine.",
                self.name(leading),
                self.name(rival)
            ),
            State::CannotTell => format!(
                "Cannot tell. Likeliest is {}, then {}. {}.",
                self.name(leading),
                self.name(rival),
                capital(&self.all_stand(&(0..self.engine().cams.len()).collect::<Vec<_>>()))
            ),
        }
    }

    /// Cams by name; all of many need none.
    fn cams(&self, cams: &[usize]) -> String {
        if cams.len() > 2 && cams.len() == self.engine().cams.len() {
            return "all cams".into();
        }
        list(&cams.iter().map(|&cam| self.engine().cams[cam].name.as_str()).collect::<Vec<_>>())
    }

    /// Whether wear is of the whole chain, not of one strand.
    fn whole(&self, wear: &Cause) -> bool {
        let drive = &self.engine().drive;
        let cams = &self.engine().cams;
        wear.chain.map_or(wear.moves.len() == cams.len(), |chain| {
            let driven = &drive.chains[chain].driven;
            let late = |name: &str| driven.iter().any(|at| drive.hangs_on(name, &at.on));
            cams.iter().filter(|cam| late(&cam.name)).count() == wear.moves.len()
        })
    }

    /// A cause in a few words.
    pub(super) fn name(&self, cause: &Cause) -> String {
        let on = cause.on.as_deref().unwrap_or_default();
        match cause.kind {
            Kind::InTime => "all in time".into(),
            Kind::Skip => match (cause.chain, cause.teeth) {
                (Some(chain), Some(teeth)) => {
                    format!(
                        "a skip of the {} at {on}, {}",
                        self.chain_name(chain),
                        teeth_text(teeth)
                    )
                }
                _ => format!("a skipped chain that moves {}", self.cams(&cause.moves)),
            },
            Kind::Wear => {
                let strand = if self.whole(cause) {
                    String::new()
                } else {
                    format!(" on its way to {}", self.cams(&cause.moves))
                };
                format!("a worn {}{strand}", self.worn_name(cause.chain))
            }
            Kind::PhaserOffRest if on.is_empty() => {
                format!("the phasers of {} away from rest", self.cams(&cause.moves))
            }
            Kind::PhaserOffRest => format!("the phaser of {on} away from rest"),
            Kind::CrankReferenceMoved => "crank wheel, key or TDC reference moved".into(),
            Kind::CamWheelMoved => format!("the trigger wheel of {on} moved"),
            Kind::DamagedTooth => format!("a damaged tooth on the wheel of {on}"),
            Kind::LeadsCrossed => {
                let other =
                    cause.crossed_with.map_or("", |cam| self.engine().cams[cam].name.as_str());
                format!("the leads of {on} and {other} exchanged")
            }
        }
    }
}

/// "varying by 0.4°"; a scatter that rounds to nothing is not said to be none.
pub fn varying(sd: CrankDelta) -> String {
    if sd.word().is_empty() {
        "varying by less than 0.1°".into()
    } else {
        format!("varying by {:.1}°", sd.0)
    }
}

/// With a capital first letter.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
