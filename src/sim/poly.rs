//! Power series on one piece of a run, in the piece's own time τ from 0 to 1, and the first
//! crossing of a polynomial, found so that none is missed and none is invented.

/// sign · series, with another start.
#[inline(always)]
pub(super) fn signed<const LEN: usize>(
    c: &Series,
    order: usize,
    sign: f64,
    start: f64,
) -> [f64; LEN] {
    let mut out = [0.0; LEN];
    for k in 1..=order_in::<LEN>(order) {
        out[k] = sign * c[k];
    }
    out[0] = start;
    out
}

/// The order of a series in an array of the given length: known to the compiler where it is
/// [`Short`].
#[inline(always)]
const fn order_in<const LEN: usize>(order: usize) -> usize {
    if LEN == SHORT + 1 { SHORT } else { order }
}

// What long series need stands beside what short ones do, out of its way: the code of the
// commonest pieces stays in the processor's nearest memory.

/// The larger of two numbers, in the one instruction a processor has for it: unlike `f64::max`,
/// the second where either is not a number.
#[inline(always)]
pub(super) fn larger(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}

/// The smaller of two numbers, likewise.
#[inline(always)]
pub(super) fn smaller(a: f64, b: f64) -> f64 {
    if a < b { a } else { b }
}

/// Sum of the magnitudes of all coefficients but the first.
#[inline(always)]
pub(super) fn spread(c: &Series, order: usize) -> f64 {
    if order == SHORT {
        let size = |k: usize| c[k].abs();
        size(1) + size(2) + size(3) + size(4) + size(5) + size(6)
    } else {
        spread_long(c, order)
    }
}

#[inline(never)]
fn spread_long(c: &Series, order: usize) -> f64 {
    let mut sum = 0.0;
    for coefficient in &c[1..=order] {
        sum += coefficient.abs();
    }
    sum
}

/// Orders of the commonest, short pieces, and the fewest a series has: read without loops.
pub(super) const SHORT: usize = 6;

/// Highest order of a series.
pub(super) const MAX_ORDER: usize = 20;

/// Coefficients of a series, c₀ + c₁τ + …; only the first `order + 1` mean anything.
pub(super) type Series = [f64; MAX_ORDER + 2];

/// A series of [`SHORT`] orders alone.
pub(super) type Short = [f64; SHORT + 1];

/// The series of nothing.
pub(super) const ZERO: Series = [0.0; MAX_ORDER + 2];

/// Coefficient k of the product of two series.
#[inline(always)]
pub(super) fn product<const N: usize>(a: &[f64; N], b: &[f64; N], k: usize) -> f64 {
    let mut sum = 0.0;
    // inner terms first: the newest coefficients, a[k] and b[k], are the last to be ready
    for j in 1..k {
        sum += a[j] * b[k - j];
    }
    if k == 0 {
        a[0] * b[0]
    } else {
        sum + (a[0] * b[k] + a[k] * b[0])
    }
}

/// Value of a series of the given order at τ.
#[inline(always)]
pub(super) fn value<const LEN: usize>(c: &[f64; LEN], order: usize, tau: f64) -> f64 {
    if order_in::<LEN>(order) == SHORT {
        let mut sum = c[SHORT];
        for k in (0..SHORT).rev() {
            sum = sum * tau + c[k];
        }
        sum
    } else {
        value_long(c, order, tau)
    }
}

#[inline(never)]
fn value_long(c: &[f64], order: usize, tau: f64) -> f64 {
    let mut sum = c[order];
    for k in (0..order).rev() {
        sum = sum * tau + c[k];
    }
    sum
}

/// Values of a series at several τ, side by side.
#[inline(always)]
pub(super) fn values<const N: usize>(c: &Series, order: usize, at: &[f64; N]) -> [f64; N] {
    if order == SHORT {
        let mut sums = [c[SHORT]; N];
        for k in (0..SHORT).rev() {
            for (sum, tau) in sums.iter_mut().zip(at) {
                *sum = *sum * tau + c[k];
            }
        }
        return sums;
    }
    values_long(c, order, at)
}

#[inline(never)]
fn values_long<const N: usize>(c: &Series, order: usize, at: &[f64; N]) -> [f64; N] {
    let mut sums = [c[order]; N];
    for k in (0..order).rev() {
        for (sum, tau) in sums.iter_mut().zip(at) {
            *sum = *sum * tau + c[k];
        }
    }
    sums
}

/// Integral of a series of the given order from 0 to τ.
#[inline(always)]
pub(super) fn integral(c: &Series, order: usize, tau: f64) -> f64 {
    let mut sum = 0.0;
    for k in (0..=order).rev() {
        sum = sum * tau + c[k] * INVERSE_RANK[k + 1];
    }
    sum * tau
}

/// k as a float.
pub(super) const RANK: [f64; MAX_ORDER + 2] = {
    let mut table = [0.0; MAX_ORDER + 2];
    let mut k = 1;
    while k < table.len() {
        table[k] = table[k - 1] + 1.0;
        k += 1;
    }
    table
};

/// 1/k; entry 0 is unused.
pub(super) const INVERSE_RANK: [f64; MAX_ORDER + 2] = {
    let mut table = [0.0; MAX_ORDER + 2];
    let mut k = 1;
    while k < table.len() {
        table[k] = 1.0 / RANK[k];
        k += 1;
    }
    table
};

/// The sign with which a series leaves τ = 0: that of the first coefficient larger than its
/// noise, 0 where there is none. `noise` belongs to c₀ and c₁; higher coefficients are judged
/// against the same level, since all are increments over the same piece.
pub(super) fn leaving_sign(c: &Series, order: usize, noise: f64) -> i8 {
    for coefficient in &c[..=order] {
        if coefficient.abs() > noise {
            return if *coefficient > 0.0 { 1 } else { -1 };
        }
    }
    0
}

/// First τ in [0, `end`] at which a series that stands at or above zero goes below it.
///
/// A series that starts within `noise` of zero is followed by its first coefficient above the
/// noise: rising, the start is no crossing (a diode's current begins exactly at zero, often
/// with zero slope) and the search goes on behind it; falling, the crossing is at once, τ = 0.
/// Between, Bernstein coefficients bound the series, so that a pair of crossings inside one
/// piece is not jumped over. Roots are closed in on by bisection-guarded Newton steps down to
/// the last bits.
#[inline(always)]
pub(super) fn first_crossing<const LEN: usize>(
    c: &[f64; LEN],
    order: usize,
    end: f64,
    noise: f64,
) -> Option<f64> {
    if c[0] > noise {
        // the cheap way out for nearly every call: what the higher terms could take away is
        // less than the start
        if c[0] + fall(c, order) > 0.0 {
            return None;
        }
        return first_root(c, order, end);
    }
    // divide out the zero at the start
    let order = order_in::<LEN>(order);
    let first = (0..=order).find(|&k| c[k].abs() > noise)?;
    if c[first] < 0.0 {
        return Some(0.0);
    }
    let mut reduced = [0.0; LEN];
    reduced[..=order - first].copy_from_slice(&c[first..=order]);
    if reduced[0] + fall(&reduced, order) > 0.0 {
        return None;
    }
    first_root(&reduced, order, end)
}

/// Sum of the negative coefficients but the first.
#[inline(always)]
fn fall<const LEN: usize>(c: &[f64; LEN], order: usize) -> f64 {
    let mut sum = 0.0;
    for k in 1..=order_in::<LEN>(order) {
        sum += if c[k] < 0.0 { c[k] } else { 0.0 };
    }
    sum
}

/// First root in (0, `end`] of a series that is positive at 0.
#[inline(always)]
fn first_root<const LEN: usize>(c: &[f64; LEN], order: usize, end: f64) -> Option<f64> {
    // falling all the way: the end decides
    let mut steepest_rise = c[1];
    for k in 2..=order_in::<LEN>(order) {
        steepest_rise += RANK[k] * c[k].abs();
    }
    if steepest_rise < 0.0 {
        return only_root(c, order, end);
    }
    isolated_root(c, order_in::<LEN>(order), end)
}

/// The same where the series may turn.
#[inline(never)]
fn isolated_root(c: &[f64], order: usize, end: f64) -> Option<f64> {
    let mut scaled = ZERO;
    let mut power = 1.0;
    for k in 0..=order {
        scaled[k] = c[k] * power;
        power *= end;
    }
    let bernstein = to_bernstein(&scaled, order);
    // What is no number crosses nothing, and no interval of it is ever small enough; the piece
    // that it belongs to is refused.
    if !bernstein[..=order].iter().sum::<f64>().is_finite() {
        return None;
    }
    let (low, high) = isolate(&bernstein, order, 0.0, 1.0, 0)?;
    let (low, high) = (low * end, high * end);
    let (at_low, at_high) = (value_long(c, order, low), value_long(c, order, high));
    let guess = if at_low > at_high {
        low + (high - low) * at_low / (at_low - at_high)
    } else {
        high
    };
    Some(close_in(c, order, (low, high), guess))
}

/// The root in (0, `end`] of a series that falls all the way, if there is one: a step or two from
/// where the inverted series puts it, which lands in the last bits nearly always.
#[inline(always)]
fn only_root<const LEN: usize>(c: &[f64; LEN], order: usize, end: f64) -> Option<f64> {
    // τ = u − a u² + (2 a² − b) u³, with u = −c₀/c₁, a = c₂/c₁, b = c₃/c₁
    let per_slope = 1.0 / c[1];
    let (u, a, b) = (-c[0] * per_slope, c[2] * per_slope, c[3] * per_slope);
    let guess = u * (1.0 - u * (a - u * (2.0 * a * a - b)));
    let mut near = guess;
    for _ in 0..2 {
        let root = third_order_step(c, order, near);
        if !(root > 0.0 && root <= end) {
            break;
        }
        // the cube of such a step is below the last bits
        if (root - near).abs() <= 1e-5 * root {
            return Some(root);
        }
        near = root;
    }
    let order = order_in::<LEN>(order);
    (value(c, order, end) <= 0.0).then(|| close_in(c, order, (0.0, end), guess))
}

/// A step of Newton's with the curvature's part (Chebyshev's method): cubes the error.
#[inline(always)]
fn third_order_step<const LEN: usize>(c: &[f64; LEN], order: usize, tau: f64) -> f64 {
    let (at, slope) = value_and_slope(c, order_in::<LEN>(order), tau);
    let curvature = 2.0 * c[2] + (6.0 * c[3] + 12.0 * c[4] * tau) * tau;
    let per_slope = 1.0 / slope;
    let step = at * per_slope;
    tau - step * (1.0 + 0.5 * curvature * per_slope * step)
}

/// Bernstein coefficients on [0, 1] of a series: b_i = Σ_k C(i,k)/C(n,k) c_k.
fn to_bernstein(c: &Series, order: usize) -> Series {
    let mut b = *c;
    // c_k / C(n, k), then repeated sums (a scaled de Casteljau run backwards)
    let mut binomial = 1.0;
    for k in 0..=order {
        b[k] /= binomial;
        binomial *= RANK[order - k] * INVERSE_RANK[(k + 1).min(MAX_ORDER + 1)];
    }
    for level in 1..=order {
        for k in (level..=order).rev() {
            b[k] += b[k - 1];
        }
    }
    b
}

/// An interval that holds exactly the first sign change, by subdivision.
fn isolate(b: &Series, order: usize, low: f64, high: f64, depth: u32) -> Option<(f64, f64)> {
    let mut changes = 0;
    let mut positive = true;
    for coefficient in &b[..=order] {
        let now_positive = *coefficient > 0.0;
        if now_positive != positive {
            changes += 1;
            positive = now_positive;
        }
    }
    if changes == 0 {
        return None;
    }
    // one change that ends below: one crossing. A double root cannot be told from a near miss
    // below this depth; it counts as a crossing where the middle is not above zero.
    if changes == 1 && b[order] <= 0.0 {
        return Some((low, high));
    }
    if depth > 48 {
        return None;
    }
    let (mut left, mut right) = ([0.0; MAX_ORDER + 2], *b);
    for level in 0..=order {
        left[level] = right[0];
        for k in 0..order - level {
            right[k] = 0.5 * (right[k] + right[k + 1]);
        }
    }
    // right[k] now holds the right half's coefficients in order
    let middle = f64::midpoint(low, high);
    isolate(&left, order, low, middle, depth + 1)
        .or_else(|| {
            if left[order] <= 0.0 {
                Some((low, middle))
            } else {
                None
            }
        })
        .or_else(|| isolate(&right, order, middle, high, depth + 1))
}

/// Closes in on the one crossing from above in [low, high] by Newton steps from `tau`, kept inside
/// a shrinking bracket. A step below 1e-8 of the root squares itself into the last bits.
#[inline(never)]
fn close_in(c: &[f64], order: usize, (mut low, mut high): (f64, f64), guess: f64) -> f64 {
    let mut tau = guess.clamp(low, high);
    for _ in 0..100 {
        let (at, slope) = value_and_slope(c, order, tau);
        if at > 0.0 {
            low = tau;
        } else {
            high = tau;
        }
        let mut next = tau - at / slope;
        if !(next > low && next < high) {
            if at == 0.0 || high - low <= 2.0 * f64::EPSILON * high {
                return tau;
            }
            if (next - tau).abs() <= 4.0 * f64::EPSILON * tau {
                return tau;
            }
            next = f64::midpoint(low, high);
        } else if (next - tau).abs() <= 1e-8 * tau {
            return next;
        }
        tau = next;
    }
    tau
}

/// Value and derivative of a series at τ.
#[inline(always)]
fn value_and_slope(c: &[f64], order: usize, tau: f64) -> (f64, f64) {
    let (mut at, mut slope) = (c[order], 0.0);
    for k in (0..order).rev() {
        slope = slope * tau + at;
        at = at * tau + c[k];
    }
    (at, slope)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(coefficients: &[f64]) -> (Series, usize) {
        let mut c = [0.0; MAX_ORDER + 2];
        c[..coefficients.len()].copy_from_slice(coefficients);
        (c, coefficients.len() - 1)
    }

    fn crossing(coefficients: &[f64]) -> Option<f64> {
        let (c, order) = series(coefficients);
        first_crossing(&c, order, 1.0, 1e-12)
    }

    #[test]
    fn products_and_integrals_agree_with_long_hand() {
        let (a, _) = series(&[1.0, 2.0, 3.0]);
        let (b, _) = series(&[4.0, 5.0, 6.0]);
        assert_eq!(
            [0, 1, 2, 3, 4].map(|k| product(&a, &b, k)),
            [4.0, 13.0, 28.0, 27.0, 18.0]
        );
        assert_eq!(integral(&a, 2, 1.0), 3.0);
        assert_eq!(value(&a, 2, 0.5), 2.75);
        assert_eq!(value_and_slope(&a, 2, 0.5), (2.75, 5.0));
    }

    /// Short series are read in other sums than long ones: the same polynomial, the same values.
    #[test]
    fn short_series_read_as_long_ones() {
        let (c, order) = series(&[0.7, -1.3, 0.4, 2.5, -0.6, 0.2, -0.9]);
        assert_eq!(order, SHORT);
        for tau in [0.0, 0.1, 0.5, 0.99, 1.0] {
            let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-14, "{a} {b}");
            near(value(&c, SHORT, tau), value_long(&c, SHORT, tau));
            near(values(&c, SHORT, &[tau])[0], value_long(&c, SHORT, tau));
            // one order more, of nothing, takes the long way
            let (at, slope) = value_and_slope(&c, SHORT, tau);
            let (long_at, long_slope) = value_and_slope(&c, SHORT + 1, tau);
            near(at, long_at);
            near(slope, long_slope);
        }
        assert!((spread(&c, SHORT) - spread(&c, SHORT + 1)).abs() < 1e-15);
        assert!((fall(&c, SHORT) - fall(&c, SHORT + 1)).abs() < 1e-15);
    }

    #[test]
    fn a_pair_of_crossings_inside_one_piece_is_not_jumped_over() {
        // (τ − 0.50)(τ − 0.52): positive at both ends
        let found = crossing(&[0.26, -1.02, 1.0]).unwrap();
        assert!((found - 0.5).abs() < 1e-14);
        // (τ − 0.5)² + 1e-9: a near miss
        assert_eq!(crossing(&[0.25 + 1e-9, -1.0, 1.0]), None);
    }

    #[test]
    fn a_current_that_begins_at_zero_is_no_crossing() {
        assert_eq!(crossing(&[0.0, 0.0, 1.0]), None);
        assert_eq!(crossing(&[0.0, -1e-17, 1.0]), None);
        // τ²(1 − 2τ): ends at 0.5
        assert!((crossing(&[0.0, 1e-17, 1.0, -2.0]).unwrap() - 0.5).abs() < 1e-14);
        assert_eq!(crossing(&[0.0, -1.0, 1.0]), Some(0.0));
    }

    #[test]
    fn roots_are_met_to_the_last_bits() {
        // exp(−τ) − 0.5 as a series of order 18
        let mut coefficients = vec![0.5, -1.0];
        for k in 2..=18_u8 {
            coefficients.push(-coefficients[usize::from(k) - 1] / f64::from(k));
        }
        let found = crossing(&coefficients).unwrap();
        assert!((found - std::f64::consts::LN_2).abs() < 1e-15, "{found}");
    }

    #[test]
    fn three_crossings_give_the_first() {
        // −(τ−0.2)(τ−0.5)(τ−0.9)
        let c = [0.09, -0.73, 1.6, -1.0];
        assert!((crossing(&c).unwrap() - 0.2).abs() < 1e-14);
    }
}
