//! A case through the whole program.

use camwitness::analysis::{Analysis, Options, analyse};
use camwitness::practice::{Preset, Truth, generate};
use camwitness::verdict::{Kind, Open, SURE, State, Verdict, errors};

use super::case::{Case, Class, Stock, draw};
use super::elsewhere;
use super::engines::{Known, Layout};
use super::ideal;
use super::judge::{self, Right, Tdc};
use super::trust::{Trust, known_good};

/// What came of one case.
#[derive(Debug, Clone)]
pub struct Outcome {
    pub seed: u64,
    pub stock: Stock,
    pub class: Class,
    pub layout: Layout,
    pub known: Known,
    pub preset: Preset,
    pub crank_wheel: &'static str,
    /// How often the trade sees such a capture for each time it is drawn.
    pub weight: f64,
    /// Faults in words.
    pub faults: String,
    /// The finding, or why the capture was refused.
    pub told: Result<Told, String>,
}

/// What the program said.
#[derive(Debug, Clone)]
pub struct Told {
    pub state: State,
    pub probability: f64,
    pub right: Right,
    /// Why these leads could not tell in principle; absent when they could.
    pub untellable: Option<&'static str>,
    /// Left open though it could be told, and perfect readings would leave it open as well.
    pub by_the_odds: bool,
    /// What of it is the price of doubting the description.
    pub price: Price,
    /// Whether it covers every cam.
    pub covers_every_cam: bool,
    /// Three questions with their true answers: skipped, drive due, recorded cams in place.
    pub questions: [Question; 3],
    /// Where it skipped: whether the place and teeth that were named are right; absent where none
    /// was, or nothing is said to have skipped.
    pub place: Option<bool>,
    /// Stated odds of: in time, a skip, anything else.
    pub odds: [f64; 3],
    /// Which of the three is true.
    pub truth: usize,
    /// Likeliest explanations.
    pub leading: String,
}

/// What keeps a finding from being made that the odds of the engine's faults alone would make.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Price {
    /// Nothing: it is made, or would not be without the doubt either.
    Nothing,
    /// The odds that the description or the leads are wrong.
    Doubt,
    /// Two things that contradict each other.
    Contradiction,
}

impl Price {
    /// Of a verdict: the same odds with what doubts the description left out, which is what they
    /// would be without it.
    fn of(verdict: &Verdict) -> Price {
        if verdict.state.answers() {
            return Price::Nothing;
        }
        if matches!(verdict.open, Some(Open::Contradiction(_))) {
            return Price::Contradiction;
        }
        let engine = |kind: Kind| !matches!(kind, Kind::InTime | Kind::Skip | Kind::DoesNotFit);
        let others = verdict.explanations.iter().filter(|one| engine(one.kind));
        let others: f64 = others.map(|one| one.probability).sum();
        let said = &verdict.questions;
        let in_time = said.recorded_in_time - said.figure_off;
        let most = in_time.max(said.drive_due).max(others);
        let decided = most / verdict.describes_this_engine() >= SURE;
        if decided && most.max(said.recorded_in_time) < SURE {
            Price::Doubt
        } else {
            Price::Nothing
        }
    }
}

/// A question as it was answered.
#[derive(Debug, Clone, Copy)]
pub struct Question {
    /// Stated odds of a yes.
    pub odds: f64,
    /// Whether the answer is yes.
    pub yes: bool,
}

impl Question {
    /// What was said: yes, no, or nothing.
    pub fn said(self) -> Option<bool> {
        if self.odds >= SURE { Some(true) } else { (self.odds <= 1.0 - SURE).then_some(false) }
    }
}

/// Everything about a case, for a closer look.
pub struct Closer {
    pub case: Case,
    pub truth: Truth,
    pub analysis: Result<Analysis, String>,
}

/// Draws, makes and analyses the case of a seed.
pub fn closer(seed: u64, stock: Stock, trust: Trust) -> Closer {
    let case = draw(seed, stock);
    let made = generate(&case.scenario).unwrap_or_else(|error| {
        panic!("seed {seed}: a drawn capture can be made: {error}\n{}", case.drawn.text)
    });
    let mut capture = made.capture;
    if stock == Stock::Elsewhere {
        elsewhere::lag(&mut capture, &case.drawn, case.scenario.rate, seed);
    }
    if let Some(cam) = case.left_off {
        let name = &case.drawn.real.cams[cam].name;
        capture.channels.retain(|channel| !channel.name.eq_ignore_ascii_case(name));
    }
    // The drawn code says that there is one, not of which bank.
    let options = Options {
        codes: case.codes.clone(),
        no_code_evidence: true,
        known: known_good(&case, trust),
        ..Options::default()
    };
    let analysis =
        analyse(&[capture], &case.drawn.engine, &options).map_err(|error| error.to_string());
    Closer { case, truth: made.truth, analysis }
}

/// As [`closer`], boiled down.
pub fn run(seed: u64, stock: Stock, trust: Trust) -> Outcome {
    let Closer { case, truth, analysis } = closer(seed, stock, trust);
    let faults: Vec<String> = case.scenario.faults.iter().map(ToString::to_string).collect();
    Outcome {
        seed,
        stock,
        class: case.class,
        layout: case.drawn.layout,
        known: case.drawn.known,
        preset: case.scenario.preset,
        crank_wheel: case.drawn.crank_wheel,
        weight: case.weight,
        faults: faults.join(", "),
        told: analysis.map(|analysis| told(&case, &truth, &analysis, trust)),
    }
}

fn told(case: &Case, truth: &Truth, analysis: &Analysis, trust: Trust) -> Told {
    let verdict = &analysis.verdict;
    let mut odds = [0.0; 3];
    for explanation in &verdict.explanations {
        odds[third(explanation.kind)] += explanation.probability;
    }
    let found = analysis.compression.tdc.as_ref().filter(|tdc| tdc.off.is_some());
    let tdc = found.map(|tdc| Tdc {
        sd: tdc.sd.get().hypot(errors::TDC_MODEL_SD.get()),
        modulo: tdc.modulo.get(),
    });
    let leading: Vec<String> = verdict
        .explanations
        .iter()
        .take(3)
        .map(|one| {
            let on = one.on.as_deref().unwrap_or("");
            let teeth = one.teeth.map_or(String::new(), |teeth| format!(" {teeth:+}"));
            format!("{} {on}{teeth} {:.3}", one.kind.word(), one.probability)
        })
        .collect();
    let untellable = judge::untellable(case, truth, tdc, trust);
    let open = untellable.is_none() && !verdict.state.answers();
    let invisible = case.class == Class::CrossedLeads && judge::crossing_is_invisible(case);
    Told {
        state: verdict.state,
        probability: verdict.probability,
        price: Price::of(verdict),
        covers_every_cam: verdict.covers_every_cam,
        questions: questions(case, truth, verdict, !analysis.cams.is_empty()),
        right: judge::right(case, truth, verdict),
        place: (verdict.state == State::Jumped && !verdict.place_is_open())
            .then(|| judge::right(case, truth, verdict) == Right::Yes),
        untellable,
        by_the_odds: open && ideal::open_to_perfect_readings(case, truth, analysis),
        odds,
        // Leads that fit either way round change nothing that could be measured.
        truth: if !truth.skips.is_empty() {
            1
        } else if invisible {
            0
        } else {
            third(case.class.kind())
        },
        leading: leading.join("; "),
    }
}

/// The three questions, as the verdict answers them and as the truth does; with no cam nothing is
/// answered. What the leads leave open by a whisker may be answered either way.
fn questions(case: &Case, truth: &Truth, verdict: &Verdict, asked: bool) -> [Question; 3] {
    let of = |odds: f64, yes: bool| Question { odds: if asked { odds } else { 0.5 }, yes };
    let said = &verdict.questions;
    let recorded: Vec<usize> = verdict.deviations.iter().map(|one| one.cam).collect();
    [
        of(said.skipped, !truth.skips.is_empty()),
        of(said.drive_due, judge::drive_is_due(case, truth)),
        of(said.recorded_in_place, judge::in_place(case, truth, &recorded)),
    ]
}

fn third(kind: Kind) -> usize {
    match kind {
        Kind::InTime => 0,
        Kind::Skip => 1,
        _ => 2,
    }
}
