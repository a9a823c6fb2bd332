//! What somebody knows of an engine that has no description: its firing order, its banks, the
//! crank's wheel.

use std::collections::BTreeMap;

use crate::units::CrankDelta;
use crate::wheel::{EdgeKind, Wheel};

/// What is known beside the capture. Everything may be missing.
#[derive(Debug, Clone, Default)]
pub struct Facts {
    /// Cylinders in firing order, cylinder 1 first.
    pub firing: Option<Vec<u32>>,
    /// Cylinders of each bank.
    pub banks: Option<BTreeMap<u32, Vec<u32>>>,
    /// The crank's wheel, and what to write for it in an engine file.
    pub wheel: Option<(Wheel, String)>,
    /// The electrical edge that marks the crank's teeth.
    pub edge: Option<EdgeKind>,
    /// TDC as the motion of the capture shows it.
    pub tdc: Option<TdcProposal>,
}

/// TDC as the motion shows it: to be looked up, not to be relied on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TdcProposal {
    /// Crank degrees from the datum to a TDC.
    pub at: CrankDelta,
    /// Standard deviation.
    pub sd: CrankDelta,
    /// Known up to multiples of this.
    pub modulo: CrankDelta,
}

/// Firing orders met often: cylinders, order, banks. From memory; the maker's service information
/// comes first.
pub const COMMON_LAYOUTS: &[(&str, &str)] = &[
    ("1-2-3", ""),
    ("1-3-2", ""),
    ("1-3-4-2", ""),
    ("1-2-4-3", ""),
    ("1-3-2-4", "1-3/2-4"),
    ("1-2-4-5-3", ""),
    ("1-5-3-6-2-4", ""),
    ("1-2-3-4-5-6", "1-3-5/2-4-6"),
    ("1-6-5-4-3-2", "1-2-3/4-5-6"),
    ("1-4-2-5-3-6", "1-2-3/4-5-6"),
    ("1-8-4-3-6-5-7-2", "1-3-5-7/2-4-6-8"),
    ("1-5-4-2-6-3-7-8", "1-2-3-4/5-6-7-8"),
];

/// The common layouts of so many cylinders, or all.
pub fn common_layouts(cylinders: Option<usize>) -> Vec<(&'static str, &'static str)> {
    let fits = |order: &str| cylinders.is_none_or(|count| order.split('-').count() == count);
    COMMON_LAYOUTS.iter().copied().filter(|(order, _)| fits(order)).collect()
}

fn numbers(text: &str) -> Option<Vec<u32>> {
    let cells = text.split(|letter: char| !letter.is_ascii_digit());
    let list: Vec<u32> =
        cells.filter(|cell| !cell.is_empty()).map(str::parse).collect::<Result<_, _>>().ok()?;
    let strange = text.chars().any(|letter| !letter.is_ascii_digit() && !"-, >".contains(letter));
    let twice = (1..list.len()).any(|at| list[..at].contains(&list[at]));
    (!strange && !list.is_empty() && !twice && !list.contains(&0)).then_some(list)
}

/// Reads a firing order, `1-6-5-4-3-2`, wherever it starts.
///
/// # Errors
/// What it should look like.
pub fn read_firing(text: &str) -> Result<Vec<u32>, String> {
    let form = "write every cylinder once, in firing order, such as 1-6-5-4-3-2";
    let mut order = numbers(text).filter(|order| order.len() > 1).ok_or(form)?;
    let first = order.iter().position(|&cylinder| cylinder == 1).ok_or(form)?;
    let all = (1..=order.len() as u32).all(|cylinder| order.contains(&cylinder));
    if !all {
        return Err(format!("{form}; cylinders are numbered from 1 without a gap"));
    }
    order.rotate_left(first);
    Ok(order)
}

/// Reads banks, `1-2-3/4-5-6`: bank 1 first.
///
/// # Errors
/// What they should look like.
pub fn read_banks(text: &str) -> Result<BTreeMap<u32, Vec<u32>>, String> {
    let form = "write the cylinders of bank 1, a slash and those of bank 2, such as 1-2-3/4-5-6";
    let lists: Vec<Vec<u32>> = text.split('/').map(numbers).collect::<Option<_>>().ok_or(form)?;
    let all: Vec<u32> = lists.concat();
    if (1..all.len()).any(|at| all[..at].contains(&all[at])) {
        return Err(format!("a cylinder is in two banks; {form}"));
    }
    Ok((1..).zip(lists).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn orders_and_banks_are_read_as_people_write_them() {
        let v6 = Ok(vec![1, 6, 5, 4, 3, 2]);
        for text in ["1-6-5-4-3-2", "1, 6, 5, 4, 3, 2", "1 6 5 4 3 2", "5-4-3-2-1-6"] {
            assert_eq!(read_firing(text), v6, "{text}");
        }
        for bad in ["", "1", "1-1-2", "1-2-4", "2-3-4", "one", "1-6-5-4-3-2;", "0-1-2"] {
            assert!(read_firing(bad).is_err(), "{bad}");
        }
        let banks = read_banks("1-2-3/4-5-6").expect("banks");
        assert_eq!((&banks[&1][..], &banks[&2][..]), (&[1, 2, 3][..], &[4, 5, 6][..]));
        for bad in ["", "/", "1-2/2-3", "1-2/", "a/b"] {
            assert!(read_banks(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn common_layouts_are_whole() {
        for (order, banks) in COMMON_LAYOUTS {
            let order = read_firing(order).expect("an order");
            if !banks.is_empty() {
                let mut all: Vec<u32> =
                    read_banks(banks).expect("banks").into_values().flatten().collect();
                all.sort_unstable();
                assert!(all.iter().copied().eq(1..=order.len() as u32), "{banks}");
            }
        }
        assert!(common_layouts(Some(6)).len() >= 3 && common_layouts(Some(9)).is_empty());
    }
}
