//! The star of slots in characters.

use super::{Spoke, Winding};

/// Characters from the middle to a spoke's word: across, and down.
const RADIUS: (f64, f64) = (22.0, 9.0);
/// More directions than this crowd the ring; the list alone is then clearer.
const MOST_DRAWN: usize = 24;

/// A ring of signed phase letters where there is room, then a line for each direction of the
/// star: angle, sides, slots counted from 1. Each line ends in a line break.
pub(super) fn draw(winding: &Winding) -> String {
    let mut spokes = winding.star();
    spokes.sort_by(|one, other| one.angle_elec_rad.total_cmp(&other.angle_elec_rad));
    let directions: Vec<&[Spoke]> = spokes
        .chunk_by(|one, other| (one.angle_elec_rad - other.angle_elec_rad).abs() < 1e-9)
        .collect();
    let mut text = String::new();
    if directions.len() <= MOST_DRAWN {
        text.push_str(&ring(&directions));
        text.push('\n');
    }
    for direction in &directions {
        text.push_str(&line(direction));
    }
    text
}

/// One direction as a line: `  210.0°  +W  slot 2`.
fn line(direction: &[Spoke]) -> String {
    let degrees = direction
        .first()
        .map_or(0.0, |spoke| spoke.angle_elec_rad.to_degrees());
    let words: Vec<String> = direction
        .iter()
        .map(|spoke| format!("{} {}", spoke.slot + 1, spoke.side))
        .collect();
    format!("  {degrees:6.1}°  slot {}\n", words.join(", slot "))
}

/// The ring: a word for the first slot of each direction, the middle marked.
fn ring(directions: &[&[Spoke]]) -> String {
    let (across, down) = RADIUS;
    let columns = 2 * index(across) + 4;
    let mut rows = vec![vec![' '; columns]; 2 * index(down) + 1];
    rows[index(down)][index(across) + 1] = '·';
    for spoke in directions.iter().filter_map(|direction| direction.first()) {
        let (sin, cos) = libm::sincos(spoke.angle_elec_rad);
        let row = index(down - down * sin);
        let column = index(across + across * cos);
        for (offset, letter) in spoke.side.to_string().chars().enumerate() {
            rows[row][column + offset] = letter;
        }
    }
    rows.into_iter()
        .map(|row| {
            format!("  {}", row.into_iter().collect::<String>())
                .trim_end()
                .to_owned()
                + "\n"
        })
        .collect()
}

/// The nearest whole number of a place in the picture, at least 0.
fn index(place: f64) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "rounded, and places lie within the picture"
    )]
    let index = libm::round(place.max(0.0)) as usize;
    index
}
