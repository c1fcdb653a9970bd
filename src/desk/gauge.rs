//! What the system knows about this process: how long ago it began, and how much of a processor it has used.
//!
//! Read from Linux's `/proc` (proc(5): `/proc/self/stat` fields 14, 15 and 22 in clock ticks, `/proc/uptime` in
//! seconds); elsewhere there is no figure, and that is said.

/// Clock ticks in a second: fixed at 100 for programs on Linux whatever the kernel's own rate (time(7), `USER_HZ`).
const TICKS_PER_S: f64 = 100.0;

/// Seconds since this process was started.
pub fn age_s() -> Option<f64> {
    let uptime = std::fs::read_to_string("/proc/uptime").ok()?;
    let now: f64 = uptime.split_whitespace().next()?.parse().ok()?;
    Some(now - field(22)? / TICKS_PER_S)
}

/// Processor time that all threads of this process have used, s.
pub fn cpu_s() -> Option<f64> {
    Some((field(14)? + field(15)?) / TICKS_PER_S)
}

/// A field of `/proc/self/stat`, numbered from 1.
fn field(number: usize) -> Option<f64> {
    stat_field(&std::fs::read_to_string("/proc/self/stat").ok()?, number)
}

/// The program's name, field 2, stands in brackets and may hold anything: what follows its last bracket is counted.
fn stat_field(stat: &str, number: usize) -> Option<f64> {
    let (_, rest) = stat.rsplit_once(')')?;
    rest.split_whitespace().nth(number.checked_sub(3)?)?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A line as proc(5) describes it; the name holds a bracket and a space.
    #[test]
    fn fields_are_counted_after_the_name() {
        let stat = "7 (odd) name) S 1 7 7 0 -1 4194304 100 0 0 0 250 50 0 0 20 0 1 0 98765 1000 200";
        assert_eq!(stat_field(stat, 14), Some(250.0));
        assert_eq!(stat_field(stat, 15), Some(50.0));
        assert_eq!(stat_field(stat, 22), Some(98765.0));
        assert_eq!(stat_field(stat, 99), None);
    }
}
