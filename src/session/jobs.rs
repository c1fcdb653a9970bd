//! Hands and time: who is doing what, and how long it takes. The patient goes on meanwhile.

use super::event::{Giver, Tick};
use crate::anatomy::Site;
use crate::scenario::Order;
use crate::scenario::order::{Closure, CtExtent, Guide, Worker};
use std::collections::VecDeque;

/// An order on its way.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// The order.
    pub order: Order,
    /// Who gave it.
    pub by: Giver,
    /// The event of its being ordered.
    pub event: u32,
    /// When hands began on it.
    pub began: Option<Tick>,
    /// How long it takes, ticks.
    pub ticks: u64,
}

/// The queues of all hands.
#[derive(Clone, Debug, Default)]
pub struct Hands {
    operator: VecDeque<Job>,
    anaesthetist: VecDeque<Job>,
    runner: VecDeque<Job>,
}

impl Hands {
    fn queue(&mut self, worker: Worker) -> &mut VecDeque<Job> {
        match worker {
            Worker::Anaesthetist => &mut self.anaesthetist,
            Worker::Runner | Worker::Nobody => &mut self.runner,
            Worker::Operator => &mut self.operator,
        }
    }

    /// Adds an order behind what the same hands are doing.
    pub fn add(&mut self, job: Job) {
        self.queue(job.order.worker()).push_back(job);
    }

    /// All hands free?
    pub fn idle(&self) -> bool {
        self.operator.is_empty() && self.anaesthetist.is_empty() && self.runner.is_empty()
    }

    /// Everything queued, whose hands first.
    pub fn all(&self) -> impl Iterator<Item = (Worker, &Job)> {
        let with = |w: Worker| move |j| (w, j);
        (self.operator.iter().map(with(Worker::Operator)))
            .chain(self.anaesthetist.iter().map(with(Worker::Anaesthetist)))
            .chain(self.runner.iter().map(with(Worker::Runner)))
    }

    /// Accesses that are to be pressed or sewn, or are being so: a hand lies there meanwhile.
    pub fn pressed(&self) -> impl Iterator<Item = Site> {
        self.operator.iter().filter_map(|job| match job.order {
            Order::Close { site, how: Closure::Pressure | Closure::Surgical } => Some(site),
            _ => None,
        })
    }

    /// Drops what has not begun for the operator: after an emergency the old plan no longer holds.
    pub fn clear_waiting(&mut self) {
        self.operator.retain(|j| j.began.is_some());
    }

    /// Are the hands for this order free?
    pub fn free_for(&self, order: &Order) -> bool {
        match order.worker() {
            Worker::Operator => self.operator.is_empty(),
            Worker::Anaesthetist => self.anaesthetist.is_empty(),
            Worker::Runner => self.runner.is_empty(),
            Worker::Nobody => true,
        }
    }

    /// Drops the job that was about to begin: the state of things refuses it after all.
    pub fn drop_first(&mut self, worker: Worker) {
        self.queue(worker).pop_front();
    }

    /// The jobs to begin at `now`, each once, then those that end at `now`, in a fixed order of hands. How long a job takes
    /// is asked when hands begin on it.
    pub fn turn(&mut self, now: Tick, ticks: impl Fn(&Order) -> u64) -> Vec<Turn> {
        let mut turns = Vec::new();
        for worker in [Worker::Anaesthetist, Worker::Operator, Worker::Runner] {
            // One turn a tick for each pair of hands: the effect of a job must be seen before the next begins.
            let queue = self.queue(worker);
            let Some(front) = queue.front_mut() else { continue };
            match front.began {
                None => {
                    front.began = Some(now);
                    front.ticks = ticks(&front.order).max(1);
                    turns.push(Turn::Begin(front.clone()));
                }
                Some(began) if began.after(front.ticks) <= now => {
                    if let Some(job) = queue.pop_front() {
                        turns.push(Turn::End(job));
                    }
                }
                Some(_) => {}
            }
        }
        turns
    }
}

/// What the hands do at a tick.
#[derive(Clone, Debug, PartialEq)]
pub enum Turn {
    /// Hands begin.
    Begin(Job),
    /// It is done.
    End(Job),
}

/// How long an order takes, s. Common practice, no source, except where a line says otherwise; a case cannot change them.
pub fn seconds(order: &Order, travel_mm: f64) -> f64 {
    match order {
        Order::Answer { .. }
        | Order::Note { .. }
        | Order::Measure { .. }
        | Order::Mark { .. }
        | Order::Finish => 0.0,
        Order::Brief { items } => 10.0 + 8.0 * items.len() as f64,
        Order::Call { .. } => 10.0,
        Order::ReadCt { extent: CtExtent::Chest } => 60.0,
        Order::ReadCt { extent: CtExtent::WholeAorta } => 120.0,
        Order::Puncture { guide, .. } => match guide {
            Guide::Ultrasound => 180.0,
            Guide::Landmark => 90.0,
            Guide::CutDown => 720.0,
        },
        Order::Insert { .. } => 20.0,
        // Careful advance under fluoroscopy, about 10 mm/s.
        Order::Move { .. } => 3.0 + travel_mm / 10.0,
        Order::Exchange { .. } => 75.0,
        Order::Remove { .. } => 25.0,
        Order::Aim { .. } => 12.0,
        Order::Screen { .. } | Order::LockTable { .. } => 1.0,
        // The table is pushed at about 100 mm/s, and stops where it should.
        Order::Pan { left_mm, head_mm } => 2.0 + left_mm.abs().max(head_mm.abs()).min(600.0) / 100.0,
        Order::Field { .. } | Order::FrameRate { .. } => 2.0,
        Order::Collimate { .. } => 3.0,
        Order::Run { seconds, .. } => 15.0 + seconds.clamp(1.0, 60.0),
        Order::Unsheathe { by_mm, .. } => 4.0 + by_mm.unwrap_or(150.0) / 6.0,
        Order::ReleaseTip { .. } => 6.0,
        Order::Inflate { .. } => 12.0,
        Order::Deflate { .. } => 10.0,
        Order::Embolise { amount, .. } => 60.0 + 45.0 * amount.clamp(0.0, 40.0),
        // A branch is entered, a sheath brought up, the stent opened (common practice, no source).
        Order::StentBranch { .. } => 480.0,
        Order::Give { .. } => 20.0,
        Order::Infuse { .. } => 45.0,
        Order::Transfuse { .. } => 30.0,
        Order::KeepSystolic { .. } | Order::FreeSystolic => 5.0,
        Order::Pace { bpm: Some(_) } => 8.0,
        Order::Pace { bpm: None } => 1.0,
        Order::BreathHold { .. } => 2.0,
        Order::Anaesthetise { .. } => 240.0,
        // The needle comes on top where no drain lies yet (`World::further_s`).
        Order::CsfDrain { .. } => 30.0,
        Order::ChestDrain => 300.0,
        // At the bedside or on the table, with the dressing (common practice, no source).
        Order::OpenBelly => 1500.0,
        Order::Warm { .. } => 60.0,
        Order::Lab { .. } => 30.0,
        // An hour for a bypass in trained hands.
        Order::Revascularise { .. } => 3600.0,
        Order::Close { how, .. } => match how {
            Closure::Sutures => 180.0,
            Closure::Pressure => 900.0,
            Closure::Surgical => 1500.0,
        },
        Order::HandOver { .. } => 180.0,
        Order::Recover { .. } => 0.0,
    }
}
