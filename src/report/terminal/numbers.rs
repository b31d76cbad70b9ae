//! Numbers for people: as many decimals as the uncertainty warrants, no more.

/// Decimals that show `uncertainty` to one figure, from `least` to `most`.
///
/// JCGM 100:2008, 7.2.6: two figures of a standard uncertainty are the most that make
/// sense; a person comparing jumps is served by one.
pub(in crate::report) fn decimals(uncertainty: f64, least: usize, most: usize) -> usize {
    if !uncertainty.is_finite() || uncertainty <= 0.0 {
        return most.min(least + 1);
    }
    let figures = -uncertainty.log10().floor();
    figures.clamp(least as f64, most as f64) as usize
}

/// A number with a fixed count of decimals; a decimal point in every locale.
pub(in crate::report) fn fixed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "unknown".to_owned();
    }
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| matches!(c, '0' | '.')) => rest.to_owned(),
        _ => text,
    }
}

/// Two ends rounded to nearest.
pub(in crate::report) fn range(lo: f64, hi: f64, decimals: usize) -> String {
    format!("{} to {}", fixed(lo, decimals), fixed(hi, decimals))
}

/// Two ends rounded outwards, so that rounding never excludes what is possible.
pub(in crate::report) fn outward(lo: f64, hi: f64, decimals: usize) -> String {
    let step = 10_f64.powi(decimals as i32);
    // Less than a millionth of a step is an artefact of binary fractions.
    let (lo, hi) = ((lo * step + 1e-6).floor(), (hi * step - 1e-6).ceil());
    range(lo / step, hi / step, decimals)
}
