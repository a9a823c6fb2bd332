//! Rows of plain numbers, one after the other: what nearly every sampled capture is made of.
//!
//! A cell is looked at in one or two words of eight bytes, its sign, digits, mark and the byte that
//! ends it together, and a row's values go to their columns when the row is whole. Anything else, a
//! blank, a quotation mark, an exponent, ends the run at the start of its line, and the line is read
//! by the roads of [`super::rows`].

use super::number::{Piece, scaled};
use super::rows::Plan;
use crate::capture::table::block::Block;
use crate::capture::table::column::ColumnRole;

/// More channels than an oscilloscope has are read cell by cell.
const MOST_CHANNELS: usize = 16;

/// Whether rows may be of this kind: a time or none, and channels.
pub(super) fn may_be(plan: &Plan) -> bool {
    let of = |wanted: ColumnRole| plan.columns.iter().filter(|(role, _)| *role == wanted).count();
    let (times, channels) = (of(ColumnRole::Time), of(ColumnRole::Channel));
    let all = times + channels == plan.columns.len();
    let times_are_numbers = plan.clock.is_none();
    let separated = plan.separator != b' ' && !plan.trailing && !plan.quoted;
    all && times <= 1 && channels <= MOST_CHANNELS && times_are_numbers && separated
}

/// Reads rows from `at` on for as long as they are of this kind; gives the start of the first line
/// that is not, or the end of the text.
pub(super) fn rows(text: &[u8], mut at: usize, plan: &Plan, block: &mut Block) -> usize {
    let before = block.rows;
    while let Some(next) = row(text, at, plan, block) {
        block.rows += 1;
        at = next;
    }
    block.lines += block.rows - before;
    at
}

/// Reads one row whole, or nothing of it; gives the start of the next line.
#[inline(always)]
fn row(text: &[u8], mut at: usize, plan: &Plan, block: &mut Block) -> Option<usize> {
    let mut values = [0.0_f32; MOST_CHANNELS];
    let mut time = None;
    let mut channel = 0;
    let mut ended_by = 0;
    for (index, &(role, shift)) in plan.columns.iter().enumerate() {
        if index > 0 && ended_by != plan.separator {
            return None;
        }
        let is_time = role == ColumnRole::Time;
        let piece = Piece::read(text, at, plan.style.decimal, is_time)?;
        let power = shift - piece.places;
        // Not branched on, see [`Piece::read`].
        let sign = u64::from(piece.negative) << 63;
        let value = f64::from_bits(scaled(piece.digits, power)?.to_bits() | sign);
        if is_time {
            time = Some((value, power));
        } else {
            *values.get_mut(channel)? = value as f32;
            channel += 1;
        }
        ended_by = piece.ended_by;
        at = piece.after;
    }
    let end = plan.line_end.byte();
    if ended_by != end {
        if ended_by != b'\r' || text.get(at) != Some(&end) {
            return None;
        }
        at += 1;
    }
    if let Some((value, place)) = time {
        block.finest = block.finest.min(place);
        block.times.push(value);
    }
    block.channels.iter_mut().zip(&values).for_each(|(channel, value)| channel.push(*value));
    Some(at)
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
            one_by_one.clear(2);
            for line in text.lines() {
                careful_row(without_return(line.as_bytes()), &plan, &mut one_by_one).expect("a row");
                one_by_one.rows += 1;
                one_by_one.lines += 1;
            }
            let mut block = Block::default();
            read(text.as_bytes(), &plan, &mut block).expect("rows");
            prop_assert_eq!((block.rows, block.lines), (one_by_one.rows, one_by_one.lines));
            prop_assert_eq!(block.finest, one_by_one.finest);
            prop_assert_eq!(&block.times, &one_by_one.times);
            // Blanks are NaN, equal to nothing.
            let bits = |block: &Block| -> Vec<Vec<u32>> {
                block.channels.iter().map(|of| of.iter().map(|value| value.to_bits()).collect()).collect()
            };
            prop_assert_eq!(bits(&block), bits(&one_by_one));
        }
    }

    #[test]
    fn a_run_ends_at_the_start_of_the_row_that_is_no_plain_one() {
        let text = b"0,5;1,25;-3,5\n1,0;-0,5;4\r\n1,5;x;5,5\n2,0;0,5;6,5\n and more behind it";
        let mut block = Block::default();
        block.clear(2);
        let end = rows(text, 0, &plan(), &mut block);
        assert_eq!(&text[end..end + 6], b"1,5;x;");
        assert_eq!((block.rows, block.lines), (2, 2));
        assert_eq!(block.times, [0.0005, 0.001]);
        assert_eq!(block.channels, [vec![1.25, -0.5], vec![-3500.0, 4000.0]]);
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
