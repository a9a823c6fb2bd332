//! The generator the cases are drawn with; the captures have one of their own.

/// SplitMix64 (Steele, Lea, Flood 2014): the same numbers on every machine.
#[derive(Debug, Clone)]
pub struct Chance(u64);

impl Chance {
    /// A stream of its own for each seed.
    pub fn new(seed: u64) -> Chance {
        // Neighbouring seeds are spread apart first; "camwitne" in ASCII keeps the stream off
        // practice's own.
        Chance(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x6361_6D77_6974_6E65)
    }

    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Even over 0 up to 1.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Even over two bounds, in tenths.
    pub fn between(&mut self, from: f64, to: f64) -> f64 {
        (10.0 * (from + (to - from) * self.unit())).round() / 10.0
    }

    /// True with this probability.
    pub fn yes(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }

    /// From `from` to `to`, e-fold rarer every `mean`, in tenths.
    pub fn fading(&mut self, from: f64, to: f64, mean: f64) -> f64 {
        let share = 1.0 - (-(to - from) / mean).exp();
        let drawn = from - mean * (1.0 - share * self.unit()).ln();
        (10.0 * drawn).round() / 10.0
    }

    /// Index drawn with these weights.
    pub fn weighted(&mut self, weights: &[f64]) -> usize {
        let mut left = self.unit() * weights.iter().sum::<f64>();
        for (index, weight) in weights.iter().enumerate() {
            left -= weight;
            if left < 0.0 {
                return index;
            }
        }
        weights.len() - 1
    }

    /// One of some values, alike.
    pub fn one<T: Copy>(&mut self, of: &[T]) -> T {
        of[((self.unit() * of.len() as f64) as usize).min(of.len() - 1)]
    }
}
