//! The numbers of levels, found by what stands for a level.

use super::cells::NEW;

/// What is met a few times fits into a core's first cache.
const FIRST_SLOTS: usize = 256;
/// Slots for each key: of four keys three stand where their hash says.
const ROOM: usize = 4;
/// Keys whose hashes fall together over more slots than this are made to be slow, and are not kept
/// so. By chance the longest row of taken slots is about 57 of 65,535 in twice as many
/// (ln n / (α − 1 − ln α) with half of them taken, from memory).
const MOST_STEPS: usize = 256;

/// What stands for a level.
pub(super) trait Key: Copy + Eq + Default {
    /// Its hash: what differs anywhere differs at the top. Multiplied by a power of two over the
    /// golden ratio (Knuth, The Art of Computer Programming, vol. 3, 6.4).
    fn hash(self) -> u64;
}

/// The bits of a level itself.
impl Key for u32 {
    #[inline(always)]
    fn hash(self) -> u64 {
        u64::from(self.wrapping_mul(0x9E37_79B9)) << u32::BITS
    }
}

/// A text, as [`super::texts`] writes it.
impl Key for u64 {
    #[inline(always)]
    fn hash(self) -> u64 {
        self.wrapping_mul(0x9E37_79B9_7F4A_7C15)
    }
}

/// Keys and the numbers of their levels.
#[derive(Debug, Clone, Default)]
pub(super) struct Numbering<K> {
    /// Each where its hash says or behind. A power of two, at least [`ROOM`] times as many as there
    /// are keys; none before the first.
    keys: Vec<K>,
    /// The number of each; [`NEW`] where none stands.
    numbers: Vec<u16>,
    /// Bits of a hash that are too many for the place of a slot.
    spare: u32,
    count: usize,
}

impl<K: Key> Numbering<K> {
    /// How many keys there are.
    pub fn len(&self) -> usize {
        self.count
    }

    /// The number that was put for a key.
    #[inline(always)]
    pub fn get(&self, key: K) -> Option<u16> {
        let mut at = self.place(key);
        loop {
            let found = *self.keys.get(at)? == key;
            let number = *self.numbers.get(at)?;
            if found || number == NEW {
                return (number != NEW).then_some(number);
            }
            at = (at + 1) & (self.keys.len() - 1);
        }
    }

    /// Puts the number of a key that is not there yet; `false` where too many stand in its way,
    /// after which some may be missing.
    pub fn put(&mut self, key: K, number: u16) -> bool {
        self.count += 1;
        if self.keys.len() < ROOM * self.count {
            let slots = (2 * self.keys.len()).max(FIRST_SLOTS);
            let keys = std::mem::replace(&mut self.keys, vec![K::default(); slots]);
            let numbers = std::mem::replace(&mut self.numbers, vec![NEW; slots]);
            self.spare = u64::BITS - slots.ilog2();
            let mut before = keys.into_iter().zip(numbers).filter(|slot| slot.1 != NEW);
            if !before.all(|(key, number)| self.set(key, number)) {
                return false;
            }
        }
        self.set(key, number)
    }

    fn set(&mut self, key: K, number: u16) -> bool {
        let mask = self.keys.len() - 1;
        let first = self.place(key);
        let mut places = (first..first + MOST_STEPS).map(|at| at & mask);
        let free = places.find(|&at| self.numbers[at] == NEW);
        if let Some(at) = free {
            self.keys[at] = key;
            self.numbers[at] = number;
        }
        free.is_some()
    }

    #[inline(always)]
    fn place(&self, key: K) -> usize {
        (key.hash() >> (self.spare & 63)) as usize
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_side_by_side_do_not_share_places() {
        // Of 1024, the 256 of a converter.
        let mut places: Vec<u64> =
            (0..256).map(|i| (i as f32 * 0.0195).to_bits().hash() >> 54).collect();
        places.sort_unstable();
        places.dedup();
        assert!(places.len() > 200, "{}", places.len());
    }
}
