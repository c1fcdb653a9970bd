//! The two moving extremes that every temporal operator is made of, in constant time a sample.
//!
//! The moving maximum keeps a falling queue of the samples that may still matter (Lemire 2006); `since` does
//! the same with values that the left operand keeps pressing down.

use std::collections::VecDeque;

/// Truth or margin: an order with a least and a greatest element and a reversal.
pub(super) trait Lattice: Copy + PartialOrd {
    /// The supremum of nothing.
    const LEAST: Self;
    /// The infimum of nothing.
    const GREATEST: Self;
    /// Truth to untruth, margin to its opposite.
    fn opposite(self) -> Self;

    fn and(self, other: Self) -> Self {
        if other < self { other } else { self }
    }
}

impl Lattice for bool {
    const LEAST: Self = false;
    const GREATEST: Self = true;
    fn opposite(self) -> Self {
        !self
    }
}

impl Lattice for f64 {
    const LEAST: Self = f64::NEG_INFINITY;
    const GREATEST: Self = f64::INFINITY;
    fn opposite(self) -> Self {
        -self
    }
}

/// A window in samples before now: from `near` to `far` ago, both included; no `far` is the whole past.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Span {
    pub near: u64,
    pub far: Option<u64>,
}

impl Span {
    /// The whole past with the present.
    pub const ALL: Self = Self { near: 0, far: None };

    /// The samples whose time lies in `[from_s, to_s]`; a bound within rounding of a sample counts as on it.
    /// Between two samples there is nothing: `near` is then beyond `far`.
    pub fn of_seconds(from_s: f64, to_s: f64, dt_s: f64) -> Self {
        // Casts saturate: a window longer than any session reaches to its start.
        let near = on_sample(from_s / dt_s, f64::ceil) as u64;
        let far = on_sample(to_s / dt_s, f64::floor) as u64;
        Self { near, far: Some(far) }
    }
}

fn on_sample(samples: f64, otherwise: fn(f64) -> f64) -> f64 {
    let nearest = samples.round();
    if (samples - nearest).abs() <= 1e-9 * nearest.max(1.0) { nearest } else { otherwise(samples) }
}

/// The greatest value in the window.
#[derive(Clone, Debug)]
pub(super) struct Greatest<L> {
    window: Span,
    now: u64,
    waiting: VecDeque<L>,
    queue: VecDeque<(u64, L)>,
}

impl<L: Lattice> Greatest<L> {
    pub fn new(window: Span) -> Self {
        Self { window, now: 0, waiting: VecDeque::new(), queue: VecDeque::new() }
    }

    /// Takes the next sample; gives the greatest of the window that ends there.
    pub fn push(&mut self, value: L) -> L {
        self.waiting.push_back(value);
        if let Some(place) = self.now.checked_sub(self.window.near)
            && let Some(value) = self.waiting.pop_front()
        {
            admit(&mut self.queue, place, value, self.window.far.is_none());
        }
        expire(&mut self.queue, self.now, self.window.far);
        self.now += 1;
        self.queue.front().map_or(L::LEAST, |&(_, value)| value)
    }

    /// How many more samples like the last leave the answer as it is.
    pub fn lasts(&self) -> u64 {
        lasts(&self.queue, self.now, self.window)
    }

    /// Takes `n` more samples like the last at once, as many as the answer [`lasts`](Self::lasts).
    pub fn skip(&mut self, n: u64) {
        self.now += n;
        skip(&mut self.queue, self.now, self.window);
    }
}

/// The greatest, over the window, of the right operand and all of the left since: half-open, so that the left
/// need not hold where the right does.
#[derive(Clone, Debug)]
pub(super) struct Since<L> {
    window: Span,
    now: u64,
    waiting: VecDeque<L>,
    /// Greatest of the left's opposite over the samples that `waiting` holds, less its oldest.
    pressed: Option<Greatest<L>>,
    queue: VecDeque<(u64, L)>,
}

impl<L: Lattice> Since<L> {
    pub fn new(window: Span) -> Self {
        let behind = window.near.checked_sub(1).map(|far| Span { near: 0, far: Some(far) });
        let pressed = behind.map(Greatest::new);
        Self { window, now: 0, waiting: VecDeque::new(), pressed, queue: VecDeque::new() }
    }

    /// Takes the next sample of both; gives the value there.
    pub fn push(&mut self, left: L, right: L) -> L {
        // Values pressed down to the same level differ only in age, and the newest lasts longest.
        while self.queue.len() > 1 && self.queue[1].1 >= left {
            self.queue.pop_front();
        }
        if let Some((_, value)) = self.queue.front_mut() {
            *value = value.and(left);
        }
        let held =
            self.pressed.as_mut().map_or(L::GREATEST, |greatest| greatest.push(left.opposite()).opposite());
        self.waiting.push_back(right);
        if let Some(place) = self.now.checked_sub(self.window.near)
            && let Some(value) = self.waiting.pop_front()
        {
            admit(&mut self.queue, place, value.and(held), self.window.far.is_none());
        }
        expire(&mut self.queue, self.now, self.window.far);
        self.now += 1;
        self.queue.front().map_or(L::LEAST, |&(_, value)| value)
    }

    /// How many more samples like the last leave the answer as it is: what waits is already pressed down as far as it goes.
    pub fn lasts(&self) -> u64 {
        lasts(&self.queue, self.now, self.window)
    }

    /// Takes `n` more samples like the last at once, as many as the answer [`lasts`](Self::lasts).
    pub fn skip(&mut self, n: u64) {
        self.now += n;
        skip(&mut self.queue, self.now, self.window);
    }
}

/// Adds a value behind all that are greater; where nothing expires, only if it is the greatest.
fn admit<L: Lattice>(queue: &mut VecDeque<(u64, L)>, place: u64, value: L, for_ever: bool) {
    while queue.back().is_some_and(|&(_, last)| last <= value) {
        queue.pop_back();
    }
    if queue.is_empty() || !for_ever {
        queue.push_back((place, value));
    }
}

fn expire<L>(queue: &mut VecDeque<(u64, L)>, now: u64, far: Option<u64>) {
    let Some(oldest) = far.and_then(|far| now.checked_sub(far)) else { return };
    while queue.front().is_some_and(|&(place, _)| place < oldest) {
        queue.pop_front();
    }
}

/// How long the front of a queue stays there while the same sample comes again. With a delay nothing is promised.
fn lasts<L>(queue: &VecDeque<(u64, L)>, now: u64, window: Span) -> u64 {
    match (queue.front(), window) {
        (Some(_), Span { near: 0, far: None }) => u64::MAX,
        // The last sample is the front: it is always there again.
        (Some(_), Span { near: 0, .. }) if queue.len() == 1 => u64::MAX,
        (Some(&(place, _)), Span { near: 0, far: Some(far) }) => (place + far + 1).saturating_sub(now),
        _ => 0,
    }
}

/// The last sample came again and again until `now`.
fn skip<L>(queue: &mut VecDeque<(u64, L)>, now: u64, window: Span) {
    if window.far.is_some()
        && let Some(last) = queue.back_mut()
    {
        last.0 = now - 1;
    }
    expire(queue, now - 1, window.far);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::Streams;

    const WINDOWS: [Span; 4] = [
        Span::ALL,
        Span { near: 0, far: Some(0) },
        Span { near: 0, far: Some(37) },
        Span { near: 3, far: Some(40) },
    ];

    /// Takes runs of equal samples one by one and as many at once as is promised; the answers must be the same. How many were
    /// taken at once.
    fn hold<M: Clone>(
        seed: &str,
        mut slow: M,
        push: impl Fn(&mut M, [f64; 2]) -> f64,
        lasts: impl Fn(&M) -> u64,
        skip: impl Fn(&mut M, u64),
    ) -> u64 {
        let mut dice = Streams::new(7).named(seed);
        let (mut fast, mut at_once) = (slow.clone(), 0);
        for _ in 0..300 {
            let values = [f64::from(dice.below(5)), f64::from(dice.below(5))];
            let mut left = u64::from(dice.below(60)) + 1;
            while left > 0 {
                let answer = push(&mut fast, values);
                assert_eq!(answer, push(&mut slow, values));
                left -= 1;
                let k = lasts(&fast).min(left);
                if k > 0 {
                    (0..k).for_each(|_| assert_eq!(answer, push(&mut slow, values)));
                    skip(&mut fast, k);
                    (left, at_once) = (left - k, at_once + k);
                }
            }
        }
        at_once
    }

    /// By its meaning: one sample at a time.
    #[test]
    fn samples_taken_at_once_are_as_samples_taken_in_turn() {
        for (i, window) in WINDOWS.into_iter().enumerate() {
            let new = Greatest::<f64>::new(window);
            let greatest =
                hold(&format!("{i}"), new, |m, [v, _]| m.push(v), Greatest::lasts, |m, n| m.skip(n));
            let new = Since::<f64>::new(window);
            let since = hold(&format!("{i}"), new, |m, [l, r]| m.push(l, r), Since::lasts, |m, n| m.skip(n));
            let delayed = window.near > 0;
            assert_eq!(
                (greatest > 3000, since > 3000),
                (!delayed, !delayed),
                "{window:?} {greatest} {since}"
            );
        }
    }
}
