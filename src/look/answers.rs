//! What all hypotheses together say: one answer for each wheel and lead, with its odds.

use super::base::Base;
use super::hypotheses::{Hypothesis, Weighed};

/// Hypotheses that give one answer, with their probability.
#[derive(Debug, Clone)]
pub(super) struct Answer {
    /// The likeliest of them.
    pub best: Hypothesis,
    /// Probability of all of them together.
    pub probability: f64,
    /// The same, had no column a header.
    pub without_headers: f64,
}

impl Weighed {
    /// The answers, likeliest first. Hypotheses with the same lead, pattern and repeats are one,
    /// whichever edge marks.
    pub fn answers(&self) -> Vec<Answer> {
        let Some(first) = self.hypotheses.first() else { return Vec::new() };
        let top = first.weight.0;
        let top_plain =
            self.hypotheses.iter().map(|one| one.weight.1).fold(f64::NEG_INFINITY, f64::max);
        let weight = |one: &Hypothesis| (one.weight.0 - top).exp();
        let plain = |one: &Hypothesis| (one.weight.1 - top_plain).exp();
        let none: f64 = self.crankless.iter().map(|one| (one.0 - top).exp()).sum();
        let none_plain: f64 = self.crankless.iter().map(|one| (one.1 - top_plain).exp()).sum();
        let all = self.hypotheses.iter().map(weight).sum::<f64>() + none + first.unthought;
        let all_plain =
            self.hypotheses.iter().map(plain).sum::<f64>() + none_plain + first.unthought;
        let mut answers: Vec<Answer> = Vec::new();
        for one in &self.hypotheses {
            let (share, share_plain) = (weight(one) / all, plain(one) / all_plain);
            match answers.iter_mut().find(|answer| self.same(&answer.best, one)) {
                Some(answer) => {
                    answer.probability += share;
                    answer.without_headers += share_plain;
                }
                None => answers.push(Answer {
                    best: one.clone(),
                    probability: share,
                    without_headers: share_plain,
                }),
            }
        }
        answers.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        doubt_priors(&mut answers);
        answers
    }

    fn same(&self, a: &Hypothesis, b: &Hypothesis) -> bool {
        if a.lead != b.lead || a.repeats != b.repeats {
            return false;
        }
        match (&self.reading(a).base, &self.reading(b).base) {
            // The two kinds of edge put uneven teeth elsewhere, for one is a tooth's start and one
            // its end.
            (Base::Uneven(a), Base::Uneven(b)) => a.len() == b.len(),
            (a, b) => a.same_as(b),
        }
    }
}

/// The odds of the likeliest, averaged over how well the priors are known; what it loses the others have
/// in proportion.
fn doubt_priors(answers: &mut [Answer]) {
    let Some((first, others)) = answers.split_first_mut() else { return };
    let before = 1.0 - first.probability;
    first.probability = doubted(first.probability);
    first.without_headers = doubted(first.without_headers);
    if before > 0.0 {
        let more = (1.0 - first.probability) / before;
        others.iter_mut().for_each(|answer| answer.probability *= more);
    }
}

/// The odds of one wheel to another that the priors make are good to a factor of three, one standard
/// deviation of their logarithm: shares of what engines have are judgement, and the headers were
/// counted on 35 recordings.
const SHARES_GOOD_TO: f64 = 3.0;

/// A probability averaged over how well the priors are known: that of odds whose logarithm is normal about
/// its own. Where the signal decides it hardly moves; where headers and shares alone do, one of 0.992 is
/// 0.986.
fn doubted(probability: f64) -> f64 {
    /// Nodes either way and their weights: Gauss and Hermite's rule of seven for the standard normal
    /// (Abramowitz and Stegun, table 25.10, its nodes times √2 and its weights over √π).
    const MIDDLE: f64 = 16.0 / 35.0;
    const NODES: [(f64, f64); 3] = [
        (1.154_405_394_739_968, 0.240_123_178_605_012_7),
        (2.366_759_410_734_541, 0.030_757_123_967_586_5),
        (3.750_439_717_725_742, 0.000_548_268_855_972_217_9),
    ];
    let logit = probability.ln() - (1.0 - probability).ln();
    if !logit.is_finite() {
        return probability;
    }
    let logistic = |log: f64| 1.0 / (1.0 + (-log).exp());
    let both = |(node, weight): (f64, f64)| {
        let by = node * SHARES_GOOD_TO.ln();
        weight * (logistic(logit + by) + logistic(logit - by))
    };
    MIDDLE * logistic(logit) + NODES.into_iter().map(both).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn odds_are_averaged_over_how_well_the_priors_are_known() {
        // The trapezoidal rule with 200,000 steps from −10 to 10, in Python.
        let references = [(0.5, 0.5), (0.9, 0.859_853), (0.992, 0.985_894), (0.9985, 0.997_278)];
        for (probability, want) in references {
            assert!((doubted(probability) - want).abs() < 2e-6, "{probability}");
            let other = doubted(1.0 - probability);
            assert!((doubted(probability) + other - 1.0).abs() < 1e-12, "{probability}");
        }
        // What is certain or ruled out has no odds.
        assert!(doubted(1.0) >= 1.0);
        assert!(doubted(0.0) <= 0.0);
    }
}
