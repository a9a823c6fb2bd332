//! Numbers drawn from a seed that cannot be turned back into it: what stands on a worksheet must
//! not lead to the seed, with which the class could be made again and its key read.

use sha2::{Digest, Sha256};

/// Seeds have so many bits: more could not be written down exactly by programs that keep every
/// number of a JSON file in floating point (IEEE 754: 53 bits).
const SEED_BITS: u32 = 53;
/// Letters and digits of a class's name, none of which is taken for another (after Crockford's base
/// 32).
const LETTERS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";

/// Numbers for one purpose.
pub(super) struct Dice {
    start: Sha256,
    drawn: u64,
}

impl Dice {
    /// Numbers of a seed for a purpose; those of another purpose do not depend on them.
    pub(super) fn new(seed: u64, purpose: &str) -> Dice {
        let mut start = Sha256::new();
        start.update(b"camwitness class\0");
        start.update(seed.to_le_bytes());
        start.update(purpose.as_bytes());
        start.update([0]);
        Dice { start, drawn: 0 }
    }

    fn bits(&mut self) -> u64 {
        let mut next = self.start.clone();
        next.update(self.drawn.to_le_bytes());
        self.drawn += 1;
        let digest = next.finalize();
        digest.iter().take(8).fold(0, |bits, byte| bits << 8 | u64::from(*byte))
    }

    /// A seed.
    pub(super) fn seed(&mut self) -> u64 {
        self.bits() >> (u64::BITS - SEED_BITS)
    }

    /// Whole, 0 up to but not including `end`, which is small; 0 where `end` is.
    pub(super) fn below(&mut self, end: usize) -> usize {
        (self.bits() % (end as u64).max(1)) as usize
    }

    /// Between two numbers, on whole multiples of `step`.
    pub(super) fn between(&mut self, low: f64, high: f64, step: f64) -> f64 {
        let share = (self.bits() >> 11) as f64 / (1_u64 << 53) as f64;
        ((low + (high - low) * share) / step).round() * step
    }

    /// One or the other.
    pub(super) fn sign(&mut self) -> f64 {
        if self.below(2) == 0 { -1.0 } else { 1.0 }
    }

    /// Puts a list into another order (Fisher and Yates).
    pub(super) fn shuffle<T>(&mut self, list: &mut [T]) {
        for last in (1..list.len()).rev() {
            list.swap(last, self.below(last + 1));
        }
    }

    /// Eight letters and digits, such as 7KQ2-M9XD.
    pub(super) fn name(&mut self) -> String {
        let bits = self.bits();
        let letter = |place: u32| char::from(LETTERS[(bits >> (5 * place)) as usize & 31]);
        let half = |from: u32| (from..from + 4).map(letter).collect::<String>();
        format!("{}-{}", half(0), half(4))
    }
}

/// A seed nobody can guess, from the operating system; `None` where it has none to give.
pub(super) fn any_seed() -> Option<u64> {
    getrandom::u64().ok().map(|bits| bits >> (u64::BITS - SEED_BITS))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_and_purpose_give_the_same_numbers_and_no_other() {
        let draw = |seed, purpose| {
            let mut dice = Dice::new(seed, purpose);
            (dice.seed(), dice.below(1000), dice.name())
        };
        assert_eq!(draw(7, "a"), draw(7, "a"));
        assert_ne!(draw(7, "a"), draw(8, "a"));
        assert_ne!(draw(7, "a"), draw(7, "b"));
        assert!(draw(7, "a").0 < 1 << SEED_BITS);
    }
}
