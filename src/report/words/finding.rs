//! The finding in short sentences: degrees with "early" or "late", never surer than the odds. The
//! technician's; the owner's stands in `owner/`.

use super::contradiction::contradiction;
use super::explanation::{beside, chain_of, explanation};
use super::mistakes::{at_line, mistake, puts_in_time};
use super::phrases::{capital, chain, list, percent, skipped_by};
use super::places::{covered, follows, somewhere};
use super::standing::{all_stand, furthest, stands};
use crate::engine::Engine;
use crate::units::CrankDelta;
use crate::verdict::{CamDeviation, Kind, Open, Reason, State, Unobservable, Verdict, Weighed};

/// The finding of a verdict on this engine.
#[must_use]
pub fn finding(engine: &Engine, verdict: &Verdict) -> String {
    let Some(leading) = verdict.explanations.first() else { return String::new() };
    match verdict.state {
        State::InTime => in_time(engine, verdict) + unconfirmed(verdict),
        State::Jumped if verdict.place_is_open() => {
            jumped_somewhere(engine, verdict) + &either_way(engine, verdict)
        }
        State::Jumped => jumped(engine, verdict) + &either_way(engine, verdict),
        State::DriveDue => drive_due(engine, verdict) + &either_way(engine, verdict),
        State::OffNotJumped => off(engine, verdict, leading) + &either_way(engine, verdict),
        State::DoesNotFit => does_not_fit(engine, verdict),
        State::CannotTell => open(engine, verdict, leading) + &either_way(engine, verdict),
    }
}

/// In time, for what was measured: what was not is named, and what the drive says of it.
fn in_time(engine: &Engine, verdict: &Verdict) -> String {
    let worst = furthest(engine, verdict.furthest());
    if verdict.covers_every_cam {
        return format!("In time. {worst}");
    }
    let (covered, rest) = covered(engine, verdict);
    format!(
        "In time for {}; {} {} not measured. {worst}{}",
        list(&covered),
        list(&rest),
        if rest.len() == 1 { "was" } else { "were" },
        follows(engine, verdict)
    )
}

/// The likeliest skip, of a finding that names its place: with faults elsewhere a skip may lead the
/// skips without leading all.
fn skip(verdict: &Verdict) -> Option<&Weighed> {
    verdict.explanations.iter().find(|one| one.kind == Kind::Skip)
}

fn jumped(engine: &Engine, verdict: &Verdict) -> String {
    let Some(leading) = skip(verdict) else { return String::new() };
    let by = match &leading.reason {
        Reason::Skip { shift: Some(shift), .. } => shift.by,
        _ => CrankDelta(0.0),
    };
    format!(
        "The {} has very likely skipped at {}: {} ({by}). {}. Displaced: {}. Do not run this engine.{}",
        chain_of(engine, leading).map_or_else(String::new, chain),
        leading.on.as_deref().unwrap_or("a sprocket"),
        leading.teeth.map(|teeth| skipped_by(teeth, leading.links)).unwrap_or_default(),
        capital(&all_stand(engine, &moved(engine, verdict, leading))),
        list(&leading.moves),
        beside(engine, leading)
    )
}

/// A chain has skipped; where, or how far, is open.
fn jumped_somewhere(engine: &Engine, verdict: &Verdict) -> String {
    let stand = capital(&all_stand(engine, &verdict.deviations));
    format!("{} {stand}. Do not run this engine.", somewhere(engine, verdict))
}

fn drive_due(engine: &Engine, verdict: &Verdict) -> String {
    let likeliest = |kind: Kind| verdict.explanations.iter().find(|one| one.kind == kind);
    let told = |kind: Kind| {
        likeliest(kind).map_or_else(String::new, |one| {
            format!("{} ({})", explanation(engine, one), percent(one.probability))
        })
    };
    format!(
        "The timing drive is very likely due: {} or {}. Which of the two is open; the same covers come off for either. {}. \
         Do not run this engine.",
        told(Kind::Skip),
        told(Kind::Wear),
        capital(&all_stand(engine, &verdict.deviations))
    )
}

fn off(engine: &Engine, verdict: &Verdict, leading: &Weighed) -> String {
    let stand = all_stand(engine, &moved(engine, verdict, leading));
    let stand = match leading.kind {
        Kind::LeadsCrossed => format!("With them put right the reading is {stand}"),
        _ => capital(&stand),
    };
    format!(
        "Something is off, and it is very likely not a skipped chain. Likeliest: {}. {stand}.",
        explanation(engine, leading)
    )
}

/// A second mistake that is at least this much as likely as the first makes the readings fit about
/// as well: which of the two it is is not guessed.
const AS_LIKELY: f64 = 0.5;

/// What does not fit, what would make it fit, and where to look.
fn does_not_fit(engine: &Engine, verdict: &Verdict) -> String {
    let mut mistakes = verdict.explanations.iter().filter_map(|one| match &one.reason {
        Reason::DoesNotFit { mistake, stand } => Some((mistake, stand, one.probability)),
        _ => None,
    });
    let Some((wrong, stand, odds)) = mistakes.next() else {
        return "The description does not fit.".into();
    };
    let rival = mistakes.next().filter(|rival| rival.2 >= AS_LIKELY * odds);
    let whose = match rival {
        Some((other, ..)) if other.is_of_leads() != wrong.is_of_leads() => {
            "engine file or the leads do"
        }
        _ if wrong.is_of_leads() => "leads do",
        _ => "engine file does",
    };
    let put_right = match rival {
        Some((other, stand, _)) => format!(
            " Nearly as likely: {}{}. Which of the two is not told by this capture.",
            mistake(engine, other, stand),
            at_line(engine, other)
        ),
        None if puts_in_time(engine, wrong, stand) => {
            " With that put right every cam stands in its place.".into()
        }
        None => String::new(),
    };
    format!(
        "The {whose} not describe what was measured, so nothing is said of the timing. Likeliest: {}{}.{put_right} {}.",
        mistake(engine, wrong, stand),
        at_line(engine, wrong),
        capital(&all_stand(engine, &verdict.deviations))
    )
}

/// Why nothing is found.
fn open(engine: &Engine, verdict: &Verdict, leading: &Weighed) -> String {
    let rival = verdict.explanations.get(1).unwrap_or(leading);
    match &verdict.open {
        None => "Cannot tell.".into(),
        Some(Open::Contradiction(at)) => match verdict.contradictions.get(*at) {
            Some(one) => format!(
                "Cannot tell: {}. {}.",
                contradiction(engine, verdict, one),
                capital(&all_stand(engine, &verdict.deviations))
            ),
            None => "Cannot tell.".into(),
        },
        Some(Open::NoCam) => "Cannot tell: no cam was measured.".into(),
        Some(Open::Outlier(cam)) => outlier(engine, verdict, *cam),
        Some(Open::Moved(cam)) => format!(
            "Cannot tell. {} moved out of its tolerance during the capture, so that it was not in its place all the while. \
             Check what can move it, and capture steady cranking alone.",
            engine.cams[*cam].name
        ),
        Some(Open::Unobservable { fault, because }) => {
            unobservable(engine, verdict, &verdict.explanations[*fault], because)
        }
        Some(Open::Repeats(cam)) => format!(
            "Cannot tell. Nothing measured is out of place, but the wheels look alike several times a turn, and {} alone does \
             not settle which time is which. {}",
            engine.cams[*cam].name,
            furthest(engine, verdict.furthest())
        ),
        Some(Open::Assumed { low_bank, some_bank_low }) => {
            assumed(engine, verdict, *low_bank, *some_bank_low)
        }
        Some(Open::Odds) => format!(
            "Cannot tell. Likeliest is {}, then {}. {}.",
            explanation(engine, leading),
            explanation(engine, rival),
            capital(&all_stand(engine, &verdict.deviations))
        ),
    }
}

/// What cams show that are held against each other by their wheels alone.
fn assumed(
    engine: &Engine,
    verdict: &Verdict,
    low_bank: Option<(u32, u32)>,
    some_bank_low: bool,
) -> String {
    let held: Vec<CamDeviation> = verdict
        .deviations
        .iter()
        .filter(|one| engine.rests_on_assumption(one.cam) && one.against != Some(one.cam))
        .copied()
        .collect();
    let mut text =
        "Cannot tell whether the timing is right: nobody said where the cams should stand."
            .to_owned();
    if !held.is_empty() {
        text.push_str(&format!(
            " If the wheels are clocked alike, the reading is {}; a multiple of {:.0}° (one firing to the next) would look the same.",
            all_stand(engine, &held),
            engine.firing_interval().0
        ));
    }
    match low_bank {
        Some((bank, percent)) => {
            text.push_str(&format!(" The compression of bank {bank} is {percent} % lower."))
        }
        None if some_bank_low => {
            text.push_str(" The compression of one bank is lower, which one is not known.")
        }
        None => {}
    }
    let off = held.iter().any(|one| one.deviation.0.abs() > engine.cams[one.cam].tolerance.0);
    if off || some_bank_low {
        text.push_str(" Do not run this engine before that is settled.");
    }
    text
}

fn outlier(engine: &Engine, verdict: &Verdict, cam: usize) -> String {
    let name = &engine.cams[cam].name;
    let found = verdict.deviations.iter().find(|one| one.cam == cam);
    let reads = found.map_or_else(|| name.clone(), |one| stands(engine, one));
    format!(
        "Cannot tell. One reading is out of place: {reads}, tolerance {:.1}°. It may be a faulty reading, but that is not \
         shown. Check the lead, sensor and wheel of {name} and the place its cam should have, then capture again.",
        engine.cams[cam].tolerance.0
    )
}

fn unobservable(
    engine: &Engine,
    verdict: &Verdict,
    fault: &Weighed,
    because: &Unobservable,
) -> String {
    let hidden = explanation(engine, fault);
    match because {
        Unobservable::PlaceUncertain => format!(
            "Cannot tell. Nothing measured is out of place, but {hidden} would not show: where the cams belong is not known \
             well enough. {}",
            furthest(engine, verdict.furthest())
        ),
        Unobservable::RelationsOnly => format!(
            "The cams agree with each other: {}. Whether all of them are in time cannot be told: the cams are only known \
             against each other, and {hidden} would not show.",
            all_stand(engine, &related(verdict))
        ),
    }
}

/// Cams that are told against another one.
fn related(verdict: &Verdict) -> Vec<CamDeviation> {
    let against_another = |one: &&CamDeviation| one.against.is_some_and(|other| other != one.cam);
    verdict.deviations.iter().filter(against_another).copied().collect()
}

/// That the figures behind "in time" were never confirmed.
fn unconfirmed(verdict: &Verdict) -> &'static str {
    if verdict.never_confirmed().is_empty() {
        ""
    } else {
        " Where the cams should stand was never confirmed on a sound engine."
    }
}

/// That the finding would be on another cam if two leads were exchanged, for every such pair it
/// touches.
pub(crate) fn either_way(engine: &Engine, verdict: &Verdict) -> String {
    let Some(leading) = verdict.explanations.first() else { return String::new() };
    let moves = |cam: usize| leading.moves.contains(&engine.cams[cam].name);
    let name = |cam: usize| engine.cams[cam].name.as_str();
    let touched = verdict.either_way().filter(|&(one, other)| moves(one) != moves(other));
    touched
        .map(|(one, other)| {
            format!(
                " The leads of {} and {} fit either way round: exchanged, it is the other one.",
                name(one),
                name(other)
            )
        })
        .collect()
}

/// Where the cams stand that an explanation moves.
fn moved(engine: &Engine, verdict: &Verdict, weighed: &Weighed) -> Vec<CamDeviation> {
    let stand = |name: &String| {
        verdict.deviations.iter().find(|one| engine.cams[one.cam].name == *name).copied()
    };
    weighed.moves.iter().filter_map(stand).collect()
}
