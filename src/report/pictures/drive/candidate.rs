//! What a picture of the drive shows as moved: the finding, or the two likeliest places side by
//! side where it is open.

use super::super::scene::Scene;
use super::chain_word;
use super::layout::Node;
use crate::analysis::Analysis;
use crate::engine::{Chain, Engine};
use crate::report::words::{percent, teeth_count};
use crate::units::CrankDelta;
use crate::verdict::{Kind, State};

/// Places less likely than this are not drawn.
const WORTH_DRAWING: f64 = 0.02;
/// A strand has lengthened where the shaft behind it stands later than the one before it by more
/// than this, in degrees of a cam: twice that of the crank, what sound cams of one chain differ by
/// (judgement).
const GROWN_DEG: f64 = 1.0;
/// Most places side by side: what a page shows with text that can be read.
const MOST: usize = 2;

/// One way in which the drive may stand.
#[derive(Debug, Clone, Default)]
pub(super) struct Candidate {
    /// What stands above it: a line in bold, and one below. Empty where no answer is shown.
    pub heading: Vec<String>,
    /// How far each shaft is turned, in degrees of the shaft, late above 0.
    turned: Vec<(String, f64)>,
    /// What is written at a shaft.
    said: Vec<(String, String)>,
    /// The sprocket that skipped: its chain and shaft.
    skipped: Option<(usize, String, String)>,
    /// The worn chain, and the shafts that stand late by it.
    worn: Option<(usize, Vec<String>)>,
}

impl Candidate {
    /// How far a sprocket's mark stands from where it should, in degrees of its shaft, late above
    /// 0; `None` where nothing is known of it.
    pub fn turned(&self, node: &Node) -> Option<f64> {
        self.turned.iter().find(|(shaft, _)| *shaft == node.shaft).map(|(_, turned)| *turned)
    }

    /// Whether the chain skipped on this sprocket.
    pub fn skipped_on(&self, node: &Node) -> bool {
        self.skipped
            .as_ref()
            .is_some_and(|(chain, on, _)| *chain == node.chain && *on == node.shaft)
    }

    /// What is written at a sprocket.
    pub fn said(&self, node: &Node) -> Vec<String> {
        let mut lines = Vec::new();
        if let Some((_, _, text)) = self.skipped.as_ref().filter(|_| self.skipped_on(node)) {
            lines.push(text.clone());
        }
        // A shaft with two sprockets says it once, where it is driven.
        if !node.drives {
            let here = self.said.iter().filter(|(shaft, _)| *shaft == node.shaft);
            lines.extend(here.map(|(_, text)| text.clone()));
        }
        lines
    }

    /// The strands of a chain that are worn: pairs of its nodes, from the driver along the pull.
    /// Where the order of the shafts is not known, every strand up to the last late one.
    pub fn worn_strands(
        &self,
        chain: usize,
        nodes: &[usize],
        all: &[Node],
        order_known: bool,
    ) -> Vec<(usize, usize)> {
        let Some((_, late)) = self.worn.as_ref().filter(|(worn, _)| *worn == chain) else {
            return Vec::new();
        };
        let furthest = nodes.iter().rposition(|&node| late.contains(&all[node].shaft)).unwrap_or(1);
        let strands: Vec<(usize, usize)> =
            nodes.windows(2).take(furthest).map(|pair| (pair[0], pair[1])).collect();
        let late = |node: usize| self.turned(&all[node]).unwrap_or(0.0);
        let grown = |&(before, behind): &(usize, usize)| late(behind) - late(before) > GROWN_DEG;
        let grown: Vec<(usize, usize)> = strands.iter().copied().filter(grown).collect();
        if order_known && !grown.is_empty() { grown } else { strands }
    }
}

/// What is to be drawn of a result.
pub(super) fn candidates(scene: &Scene) -> Vec<Candidate> {
    let analysis = scene.analysis;
    let verdict = &analysis.verdict;
    let decided = !matches!(verdict.state, State::CannotTell | State::DoesNotFit);
    let open = verdict.state == State::Jumped && verdict.place_is_open()
        || matches!(verdict.state, State::CannotTell | State::DriveDue);
    let may_be = verdict.explanations.iter().filter(|one| {
        matches!(one.kind, Kind::Skip | Kind::Wear) && one.probability >= WORTH_DRAWING
    });
    let weighed: Vec<_> = may_be.take(if open { MOST } else { 1 }).collect();
    let settled = verdict.state == State::Jumped || open;
    if !settled || weighed.is_empty() || verdict.rests_on_assumption() {
        return vec![as_measured(analysis, decided)];
    }
    let engine = &analysis.engine;
    let mut drawn = Vec::new();
    for one in weighed {
        let Some(at) = chain_named(engine, one.chain.as_ref()) else { continue };
        let chain = &engine.drive.chains[at];
        let odds = percent(one.probability);
        let on = one.on.clone().unwrap_or_default();
        let mut candidate = as_measured(analysis, false);
        match (one.kind, one.teeth) {
            (Kind::Skip, Some(teeth)) => {
                let way = if teeth > 0 { "late" } else { "early" };
                let links = match one.links {
                    Some(links) => format!(", {}", counted_links(links)),
                    None => String::new(),
                };
                candidate.heading = vec![
                    format!("{} on {on}: {} {way}{links}", chain_word(chain), teeth_count(teeth)),
                    format!("Odds {odds}. One tooth is {:.1}° of the crank.", chain.step().0),
                ];
                let by = f64::from(teeth) * chain.step().0;
                let skip = Skip { engine, at, on: &on, moves: &one.moves };
                // Where the place is open, each picture shows what its own place would give.
                candidate.turned = skip.turned(by, if open { None } else { Some(analysis) });
                candidate.skipped = Some((at, on.clone(), format!("{} {way}", teeth_count(teeth))));
            }
            (Kind::Wear, _) => {
                candidate.heading =
                    vec![format!("{} worn", chain_word(chain)), format!("Odds {odds}.")];
                candidate.worn = Some((at, one.moves.clone()));
            }
            _ => continue,
        }
        drawn.push(candidate);
    }
    if drawn.is_empty() { vec![as_measured(analysis, decided)] } else { drawn }
}

fn counted_links(links: i32) -> String {
    match links.abs() {
        1 => "1 link".into(),
        several => format!("{several} links"),
    }
}

fn chain_named(engine: &Engine, name: Option<&String>) -> Option<usize> {
    engine.drive.chains.iter().position(|chain| Some(&chain.name) == name)
}

/// The cams as they were measured, and nothing said of why.
fn as_measured(analysis: &Analysis, decided: bool) -> Candidate {
    let engine = &analysis.engine;
    let measured = analysis.cams.iter().filter_map(|cam| {
        let name = engine.cams[cam.measured.cam].name.clone();
        Some((name, cam.deviation()?))
    });
    let measured: Vec<(String, CrankDelta)> = measured.collect();
    let said = |(name, off): &(String, CrankDelta)| {
        let word = if off.word().is_empty() { "in place".to_owned() } else { off.to_string() };
        (name.clone(), word)
    };
    let heading = match (decided, measured.is_empty()) {
        (_, true) => {
            vec!["The drive as described; no cam could be held against its place".to_owned()]
        }
        (true, _) => vec!["The cams as measured".to_owned()],
        (false, _) => vec!["The cams as measured; nothing is found of the drive".to_owned()],
    };
    let turned = measured.iter().map(|(name, off)| (name.clone(), off.to_cam().0));
    Candidate {
        heading,
        turned: turned.collect(),
        said: measured.iter().map(said).collect(),
        ..Candidate::default()
    }
}

/// A skip, and what it turns.
struct Skip<'a> {
    engine: &'a Engine,
    at: usize,
    on: &'a str,
    moves: &'a [String],
}

impl Skip<'_> {
    /// How far each shaft is turned by a skip of `by` crank degrees: cams as measured where that is
    /// given, the others by the teeth.
    fn turned(&self, by: f64, measured: Option<&Analysis>) -> Vec<(String, f64)> {
        let mut turned = measured.map(|one| as_measured(one, false).turned).unwrap_or_default();
        let drive = &self.engine.drive;
        for chain in &drive.chains {
            for sprocket in &chain.driven {
                let shaft = &sprocket.on;
                if turned.iter().any(|(known, _)| known == shaft) {
                    continue;
                }
                let ratio = ratio(chain, sprocket.teeth);
                let by = if self.moves_shaft(shaft) { by * ratio } else { 0.0 };
                turned.push((shaft.clone(), by));
            }
        }
        turned
    }

    fn moves_shaft(&self, shaft: &str) -> bool {
        if self.engine.cam_index(shaft).is_some() {
            return self.moves.iter().any(|name| name == shaft);
        }
        let drive = &self.engine.drive;
        let driver = drive.chains[self.at].driver.on == self.on;
        match driver {
            true => drive.path_to(shaft).contains(&self.at),
            false => drive.hangs_on(shaft, self.on),
        }
    }
}

/// Speed of a driven shaft, turns per turn of the crank.
fn ratio(chain: &Chain, teeth: u32) -> f64 {
    chain.driver_ratio.get() * f64::from(chain.driver.teeth) / f64::from(teeth)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Degrees of both cams, shafts said to be late, strands that are worn.
    type Row<'a> = ([f64; 2], &'a [&'a str], &'a [(usize, usize)]);
    /// A chain from the crank over two shafts. (degrees of both, which of its two strands grew):
    /// the first strand moves both shafts, the second the one behind it alone, and each its part.
    #[test]
    fn wear_belongs_to_the_strand_behind_which_shafts_stand_later() {
        let node = |shaft: &str, drives: bool| Node {
            chain: 0,
            shaft: shaft.to_owned(),
            teeth: 38,
            ratio: 0.5,
            drives,
            centre: (0.0, 0.0),
            radius: 30.0,
        };
        let all = [node("crank", true), node("near", false), node("far", false)];
        let rows: [Row; 3] = [
            ([4.0, 4.0], &["near", "far"], &[(0, 1)]),
            ([0.2, 4.0], &["far"], &[(1, 2)]),
            ([3.0, 6.0], &["near", "far"], &[(0, 1), (1, 2)]),
        ];
        for (degrees, late, want) in rows {
            let turned = ["near", "far"].iter().zip(degrees);
            let candidate = Candidate {
                turned: turned.map(|(shaft, off)| ((*shaft).to_owned(), off)).collect(),
                worn: Some((0, late.iter().map(|shaft| (*shaft).to_owned()).collect())),
                ..Candidate::default()
            };
            assert_eq!(candidate.worn_strands(0, &[0, 1, 2], &all, true), want, "{degrees:?}");
            // Without the order, all strands up to the last late shaft.
            assert_eq!(candidate.worn_strands(0, &[0, 1, 2], &all, false), [(0, 1), (1, 2)]);
            let elsewhere = candidate.worn_strands(1, &[0, 1, 2], &all, true);
            assert!(elsewhere.is_empty(), "another chain");
        }
    }
}
