//! How often the trade sees each class, for counting a stock of faults alike as the trade would
//! meet it.

use camwitness::verdict::{Kind, errors, priors};

use super::class::{Class, phasers, possible};
use super::engines::Drawn;

/// Share of a class in the trade on such an engine over its share among faults alike.
pub fn weight(drawn: &Drawn, coded: bool, class: Class) -> f64 {
    let possible = possible(drawn);
    let total: f64 = Class::ALL.iter().map(|&class| rate(drawn, coded, class)).sum();
    rate(drawn, coded, class) / total * possible.len() as f64
}

/// Relative rate of a class, by the table of priors.
fn rate(drawn: &Drawn, coded: bool, class: Class) -> f64 {
    let phasers = phasers(drawn).len();
    let kind = match class.kind() {
        Kind::PhaserOffRest if phasers == 0 => 0.0,
        Kind::LeadsCrossed if drawn.real.cams.len() < 2 => 0.0,
        kind => priors::base_rate(kind, coded),
    };
    kind * share(phasers, class)
}

/// Share of a class in its kind.
fn share(phasers: usize, class: Class) -> f64 {
    let away = priors::SKIP_WITH_PHASER * phasers as f64;
    let alone = if phasers < 2 { 1.0 } else { priors::ONE_PHASER_CRANKING };
    match class {
        Class::Sound => 1.0 - priors::SOUND_WITH_WEAR,
        Class::WornWithinTolerance => priors::SOUND_WITH_WEAR,
        Class::Skip => 1.0 - priors::SKIP_WITH_WEAR - away,
        Class::SkipAndWear => priors::SKIP_WITH_WEAR,
        Class::SkipAndPhaser => away,
        Class::Phaser => alone * (1.0 - errors::MOVING_SHOWS),
        Class::PhaserWanders => alone * errors::MOVING_SHOWS,
        Class::SeveralPhasers => 1.0 - alone,
        Class::Wear
        | Class::CrankWheel
        | Class::CamWheel
        | Class::DamagedTooth
        | Class::CrossedLeads => 1.0,
    }
}
