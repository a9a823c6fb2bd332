//! Rows of plain numbers, one after the other: what nearly every sampled capture is made of.
//!
//! A cell is looked at in one or two words of eight bytes, its sign, digits, mark and the byte that
//! ends it together. One whose text was met before is not read at all, and a time is read on from the
//! one before. Anything else, a blank, a quotation mark, an exponent, ends the run at the start of
//! its line, and the line is read by the roads of [`super::rows`].

use super::number::{Head, Piece, first_of};
use super::rows::Plan;
use crate::capture::table::block::Block;
use crate::capture::table::cells::Cells;
use crate::capture::table::column::ColumnRole;
use crate::capture::table::texts::{LONGEST, Texts, text_of};

/// Whether rows may be of this kind: a time or none, and channels.
pub(super) fn may_be(plan: &Plan) -> bool {
    let of = |wanted: ColumnRole| plan.columns.iter().filter(|(role, _)| *role == wanted).count();
    let times = of(ColumnRole::Time);
    let all = times + plan.channels() == plan.columns.len();
    let times_are_numbers = plan.clock.is_none();
    let separated = plan.separator != b' ' && !plan.trailing && !plan.quoted;
    all && times <= 1 && times_are_numbers && separated
}

/// Reads rows from `at` on for as long as they are of this kind; gives the start of the first line
/// that is not, or the end of the text.
pub(super) fn rows(
    text: &[u8],
    mut at: usize,
    plan: &Plan,
    texts: &[&Texts],
    block: &mut Block,
) -> usize {
    let before = block.rows;
    let mut head = Head::default();
    let way = Way { text, decimal: plan.style.decimal, line_end: plan.line_end.byte() };
    while let Some(next) = row(&way, at, plan, texts, &mut head, block) {
        block.rows += 1;
        at = next;
    }
    // The last one may have been begun.
    block.take_back();
    block.lines += block.rows - before;
    at
}

/// What is the same in every row.
struct Way<'a> {
    text: &'a [u8],
    decimal: u8,
    line_end: u8,
}

/// Reads one row; gives the start of the next line. On `None` some values may have been added
/// already.
#[inline(always)]
fn row(
    way: &Way,
    mut at: usize,
    plan: &Plan,
    texts: &[&Texts],
    head: &mut Head,
    block: &mut Block,
) -> Option<usize> {
    let (mut channels, mut texts) = (block.channels.iter_mut(), texts.iter());
    let last = plan.columns.len() - 1;
    for (index, &(role, shift)) in plan.columns.iter().enumerate() {
        let closed_by = if index == last { way.line_end } else { plan.separator };
        if role == ColumnRole::Time {
            let value = match Piece::read_on(way.text, at, way.decimal, closed_by, head) {
                Some(piece) => {
                    at = piece.after;
                    block.finest = block.finest.min(shift - piece.places);
                    piece.value(shift)?
                }
                None => {
                    let (value, place) = way.number(&mut at, closed_by, shift)?;
                    block.finest = block.finest.min(place);
                    value
                }
            };
            block.times.push(value);
            continue;
        }
        let (cells, known) = (channels.next()?, texts.next());
        let Cells::Coded(numbers) = cells else {
            cells.push(way.number(&mut at, closed_by, shift)?.0 as f32);
            continue;
        };
        let word = u64::from_le_bytes(*way.text.get(at..)?.first_chunk()?);
        let length = first_of(word, closed_by);
        let mut key = 0;
        if (1..=LONGEST).contains(&length) {
            key = text_of(word, length);
            if let Some(code) = known?.get(key) {
                numbers.codes.push(code);
                at += length as usize + 1;
                continue;
            }
        }
        let (value, _) = way.number(&mut at, closed_by, shift)?;
        numbers.push_new(value as f32, key);
    }
    Some(at)
}

impl Way<'_> {
    /// The number of the cell that starts at `at`, which goes to the next one, and the power of ten
    /// of its last digit. `shift` is the power of ten of its column's unit.
    ///
    /// By itself, for what most cells need to stay in the processor's registers.
    #[inline(never)]
    fn number(&self, at: &mut usize, closed_by: u8, shift: i32) -> Option<(f64, i32)> {
        let piece = Piece::read(self.text, *at, self.decimal)?;
        *at = piece.after;
        if piece.ended_by != closed_by {
            // A line may end in two bytes.
            let returned = closed_by == self.line_end && piece.ended_by == b'\r';
            if !returned || self.text.get(*at) != Some(&closed_by) {
                return None;
            }
            *at += 1;
        }
        Some((piece.value(shift)?, shift - piece.places))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::capture::csv::number::NumberStyle;
    use crate::capture::csv::rows::{careful_row, read};
    use crate::capture::csv::split::{LineEnd, without_return};

    /// A time in milliseconds and two channels.
    fn plan() -> Plan {
        Plan {
            separator: b';',
            style: NumberStyle { decimal: b',', thousands: None },
            line_end: LineEnd::Feed,
            columns: vec![
                (ColumnRole::Time, -3),
                (ColumnRole::Channel, 0),
                (ColumnRole::Channel, 3),
            ],
            trailing: false,
            levels: vec![false; 3],
            timed: true,
            clock: None,
            counter: None,
            quoted: false,
            repeated: vec![],
            line_bytes: 1 << 20,
        }
    }

    proptest! {
        #[test]
        fn rows_read_in_runs_are_those_read_one_by_one(
            lines in prop::collection::vec(
                "-?[0-9]{1,9}(,[0-9]{1,9})?;(-?[0-9]{1,3},[0-9]{1,4}|[0-9]{1,9}|-?[0-9],[0-9]{12}|| 1,5|∞|2e-1);-?[0-9]{1,2}(,[0-9]{1,5})?\r?",
                1..30,
            ),
            // Without a line end behind the last row as well.
            closed in any::<bool>(),
        ) {
            let (plan, text) = (plan(), lines.join("\n") + if closed { "\n" } else { "" });
            let mut one_by_one = Block::default();
            one_by_one.clear(2, |_| false);
            for line in text.lines() {
                careful_row(without_return(line.as_bytes()), &plan, &mut one_by_one).expect("a row");
                one_by_one.rows += 1;
                one_by_one.lines += 1;
            }
            let mut block = Block::default();
            read(text.as_bytes(), &plan, &[], &mut block).expect("rows");
            prop_assert_eq!((block.rows, block.lines), (one_by_one.rows, one_by_one.lines));
            prop_assert_eq!(block.finest, one_by_one.finest);
            prop_assert_eq!(&block.times, &one_by_one.times);
            // Blanks are NaN, equal to nothing.
            let bits = |block: &Block| -> Vec<Vec<u32>> {
                let of = |cells: &Cells| cells.to_vec(&[]).iter().map(|value| value.to_bits()).collect();
                block.channels.iter().map(of).collect()
            };
            prop_assert_eq!(bits(&block), bits(&one_by_one));
        }
    }

    #[test]
    fn a_run_ends_at_the_start_of_the_row_that_is_no_plain_one() {
        let text = b"0,5;1,25;-3,5\n1,0;-0,5;4\r\n1,5;x;5,5\n2,0;0,5;6,5\n and more behind it";
        let mut block = Block::default();
        block.clear(2, |_| false);
        let end = rows(text, 0, &plan(), &[], &mut block);
        assert_eq!(&text[end..end + 6], b"1,5;x;");
        assert_eq!((block.rows, block.lines), (2, 2));
        assert_eq!(block.times, [0.0005, 0.001]);
        let values: Vec<Vec<f32>> = block.channels.iter().map(|of| of.to_vec(&[])).collect();
        assert_eq!(values, [vec![1.25, -0.5], vec![-3500.0, 4000.0]]);
    }

    #[test]
    fn tables_of_other_kinds_are_left_alone() {
        assert!(may_be(&plan()));
        for role in
            [ColumnRole::Counter, ColumnRole::TimeAgain, ColumnRole::Words, ColumnRole::Time]
        {
            let mut other = plan();
            other.columns.push((role, 0));
            assert!(!may_be(&other), "{role:?}");
        }
        assert!(!may_be(&Plan { separator: b' ', ..plan() }));
        assert!(!may_be(&Plan { quoted: true, ..plan() }));
        assert!(!may_be(&Plan { trailing: true, ..plan() }));
    }
}
