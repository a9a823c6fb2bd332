//! The drive from the crank to the cams as a tree of sprockets.
//!
//! If a chain skips on a sprocket with T teeth whose shaft turns at ratio ρ to the
//! crank, the shaft moves by 360 / (T ρ) crank degrees per tooth. T ρ is the speed
//! of the chain itself, so the step is the same for every sprocket of one chain.

use serde::Deserialize;

use crate::stats::greatest_common_divisor;
use crate::units::{CrankDelta, TURN_DEG};

/// What links the sprockets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ChainKind {
    /// Roller or silent chain.
    Chain,
    /// Toothed belt.
    Belt,
    /// Meshing gears.
    Gear,
}

impl ChainKind {
    /// The word a technician reads.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            ChainKind::Chain => "chain",
            ChainKind::Belt => "belt",
            ChainKind::Gear => "gear",
        }
    }
}

/// Exact speed of a shaft relative to the crank, in lowest terms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ratio {
    numerator: u64,
    denominator: u64,
}

impl Ratio {
    /// The crank itself.
    pub const ONE: Ratio = Ratio { numerator: 1, denominator: 1 };
    /// Every camshaft of a four-stroke.
    pub const HALF: Ratio = Ratio { numerator: 1, denominator: 2 };

    /// The ratio after a stage with `driver` teeth driving `driven` teeth, both at least 1;
    /// `None` when the numbers grow past 64 bits.
    #[must_use]
    pub fn geared(self, driver: u32, driven: u32) -> Option<Ratio> {
        let numerator = self.numerator.checked_mul(u64::from(driver))?;
        let denominator = self.denominator.checked_mul(u64::from(driven))?;
        let common = greatest_common_divisor(numerator, denominator);
        Some(Ratio { numerator: numerator / common, denominator: denominator / common })
    }

    /// As a number: turns of the shaft per turn of the crank.
    #[must_use]
    pub fn get(self) -> f64 {
        self.numerator as f64 / self.denominator as f64
    }
}

impl std::fmt::Display for Ratio {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(out, "{}/{}", self.numerator, self.denominator)
    }
}

/// A sprocket, pulley or gear on a shaft.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sprocket {
    /// The shaft: "crank", a cam's name, or an idler named by use.
    pub on: String,
    /// Teeth.
    pub teeth: u32,
}

/// One chain, belt or pair of gears.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    /// Its name.
    pub name: String,
    /// What it is.
    pub kind: ChainKind,
    /// The sprocket that drives it.
    pub driver: Sprocket,
    /// Speed of the driving shaft.
    pub driver_ratio: Ratio,
    /// The sprockets it drives.
    pub driven: Vec<Sprocket>,
    /// Whether `driven` stands in the order in which the chain runs, from the driver on, the pulled
    /// strand first; false where the description does not say so.
    pub pulled_order: bool,
}

impl Chain {
    /// Crank degrees that one skipped tooth moves what it drives; the same
    /// for every sprocket of the chain.
    #[must_use]
    pub fn step(&self) -> CrankDelta {
        CrankDelta(TURN_DEG / (f64::from(self.driver.teeth) * self.driver_ratio.get()))
    }
}

/// A place at which a chain can skip, and the cams a skip there moves.
#[derive(Debug, Clone, PartialEq)]
pub struct SkipPlace {
    /// Index into [`Drive::chains`].
    pub chain: usize,
    /// The shaft whose sprocket it is. Of places that move the same cams, the one nearest the cams.
    pub on: String,
    /// Every shaft of this chain whose sprocket would have moved the same cams, `on` among them.
    pub same_as: Vec<String>,
    /// Indices of the cams displaced, in the order of the engine's cams.
    pub moves: Vec<usize>,
    /// Crank degrees per tooth.
    pub step: CrankDelta,
}

/// The whole drive. Chains are in an order in which every driver is turned by an
/// earlier chain or by the crank.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Drive {
    /// The chains.
    pub chains: Vec<Chain>,
}

impl Drive {
    /// The chain that turns a shaft directly; `None` for the crank and for unknown shafts.
    #[must_use]
    pub fn chain_driving(&self, shaft: &str) -> Option<usize> {
        self.chains
            .iter()
            .position(|chain| chain.driven.iter().any(|sprocket| sprocket.on == shaft))
    }

    /// Chains from the crank to a shaft, the crank's first.
    #[must_use]
    pub fn path_to(&self, shaft: &str) -> Vec<usize> {
        let mut path = Vec::new();
        let mut at = shaft.to_owned();
        while let Some(chain) = self.chain_driving(&at) {
            path.push(chain);
            at.clone_from(&self.chains[chain].driver.on);
        }
        path.reverse();
        path
    }

    /// How many strands of a chain may add their wear up: one where the order of its sprockets is
    /// not known.
    #[must_use]
    pub fn strands(&self, chain: usize) -> usize {
        let chain = &self.chains[chain];
        if chain.pulled_order { chain.driven.len() } else { 1 }
    }

    /// How many of these strands lie between the chain's driver and a shaft that hangs on the
    /// chain, counted along the pull; `None` for a shaft that does not hang on it.
    #[must_use]
    pub fn strand_to(&self, chain: usize, shaft: &str) -> Option<usize> {
        let driven = &self.chains[chain].driven;
        let at = driven.iter().position(|sprocket| self.hangs_on(shaft, &sprocket.on))?;
        Some((at + 1).min(self.strands(chain)))
    }

    /// Whether turning `shaft` by a skip also turns `below`: the same shaft, or one it drives.
    #[must_use]
    pub fn hangs_on(&self, below: &str, shaft: &str) -> bool {
        below == shaft
            || self.path_to(below).iter().any(|&chain| self.chains[chain].driver.on == shaft)
    }

    /// Links by which a chain stands off after skipping so many teeth, signed alike: a tooth is one
    /// pitch of a chain, one link. Belts and gears have none.
    #[must_use]
    pub fn links(&self, chain: Option<usize>, teeth: Option<i32>) -> Option<i32> {
        let is_chain = self.chains.get(chain?)?.kind == ChainKind::Chain;
        teeth.filter(|_| is_chain)
    }

    /// Every place at which a skip would displace at least one of `cams`, one entry
    /// per chain and set of displaced cams: skips that move the same cams by the same
    /// step cannot be told apart and are one place.
    #[must_use]
    pub fn skip_places(&self, cams: &[&str]) -> Vec<SkipPlace> {
        let mut places: Vec<SkipPlace> = Vec::new();
        for (index, chain) in self.chains.iter().enumerate() {
            // The driving sprocket last: the place nearest the cams names the entry.
            let driver_moves: Vec<usize> =
                (0..cams.len()).filter(|&cam| self.path_to(cams[cam]).contains(&index)).collect();
            let driven = chain.driven.iter().map(|sprocket| {
                let moves =
                    (0..cams.len()).filter(|&cam| self.hangs_on(cams[cam], &sprocket.on)).collect();
                (sprocket.on.clone(), moves)
            });
            let all: Vec<(String, Vec<usize>)> =
                driven.chain([(chain.driver.on.clone(), driver_moves)]).collect();
            for (on, moves) in all {
                if moves.is_empty() {
                    continue;
                }
                match places.iter_mut().find(|place| place.chain == index && place.moves == moves) {
                    Some(place) => place.same_as.push(on),
                    None => places.push(SkipPlace {
                        chain: index,
                        same_as: vec![on.clone()],
                        on,
                        moves,
                        step: chain.step(),
                    }),
                }
            }
        }
        places
    }
}
