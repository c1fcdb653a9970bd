//! The 56-artery benchmark tree (Boileau et al., IJNMBE 31:e02732, 2015), read from
//! `assets/anatomy/adan56.csv`.

/// One segment of the benchmark tree.
#[derive(Clone, Debug, PartialEq)]
pub struct Segment {
    /// Its name in the table.
    pub name: String,
    /// Node at its start.
    pub from: u32,
    /// Node at its end.
    pub to: u32,
    /// Length, mm.
    pub length_mm: f64,
    /// Radius at its start, mm.
    pub start_mm: f64,
    /// Radius at its end, mm.
    pub end_mm: f64,
}

/// All 77 segments in the order of the table.
pub fn segments() -> Vec<Segment> {
    include_str!("../../assets/anatomy/adan56.csv").lines().skip(1).filter_map(segment).collect()
}

/// Summed length of the named segments, mm.
pub fn length_mm(names: &[&str]) -> f64 {
    segments().iter().filter(|s| names.contains(&s.name.as_str())).map(|s| s.length_mm).sum()
}

/// Radii at the start and the end of a segment, mm.
pub fn radii_mm(name: &str) -> (f64, f64) {
    segments().iter().find(|s| s.name == name).map_or((1.0, 1.0), |s| (s.start_mm, s.end_mm))
}

/// name, start node, end node, -, length m, -, start radius m, end radius m, ...
fn segment(line: &str) -> Option<Segment> {
    let mut cells = line.split(',').map(str::trim);
    let name = cells.next()?.to_owned();
    let from = cells.next()?.parse().ok()?;
    let to = cells.next()?.parse().ok()?;
    let length: f64 = cells.nth(1)?.parse().ok()?;
    let start: f64 = cells.nth(1)?.parse().ok()?;
    let end: f64 = cells.next()?.parse().ok()?;
    Some(Segment { name, from, to, length_mm: 1e3 * length, start_mm: 1e3 * start, end_mm: 1e3 * end })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sums by hand from the published table.
    #[test]
    fn the_table_is_read_whole() {
        assert_eq!(segments().len(), 77);
        let aorta: f64 = segments().iter().filter(|s| s.name.contains("aort")).map(|s| s.length_mm).sum();
        assert!((aorta - 424.125).abs() < 0.01, "{aorta}");
        let (a, b) = radii_mm("common_iliac_R");
        assert!((a - 4.49868).abs() < 1e-9 && (b - 4.09113).abs() < 1e-9, "{a} {b}");
    }
}
