//! A chart as it is written: a tree of states that name each other.

/// A state as written, with the states inside it.
#[derive(Clone, Debug, PartialEq)]
pub struct StateSpec<G, A> {
    /// Its name; no other state has it.
    pub id: String,
    /// What sort of state it is.
    pub kind: SpecKind<A>,
    /// What is done on entering, in order.
    pub on_entry: Vec<A>,
    /// What is done on leaving, in order.
    pub on_exit: Vec<A>,
    /// Transitions from here, the first that may be taken wins.
    pub transitions: Vec<TransitionSpec<G, A>>,
    /// The states inside.
    pub states: Vec<StateSpec<G, A>>,
}

/// What sort of state is written.
#[derive(Clone, Debug, PartialEq)]
pub enum SpecKind<A> {
    /// One of the states inside is active at a time; the first, unless `initial` says otherwise.
    State {
        /// Where to go when it is entered.
        initial: Option<InitialSpec<A>>,
    },
    /// All the states inside are active at once.
    Parallel,
    /// Ends the state that it is in; the whole chart at the top.
    Final,
    /// Stands for the states that were active when the state around it was last left.
    History {
        /// Down to the innermost states, not just the next level.
        deep: bool,
        /// Where to go if it was never left.
        default: InitialSpec<A>,
    },
}

/// Where to go when nothing else says so.
#[derive(Clone, Debug, PartialEq)]
pub struct InitialSpec<A> {
    /// Names of states, in different regions if there is more than one.
    pub target: Vec<String>,
    /// What is done on the way.
    pub actions: Vec<A>,
}

/// A transition as written.
#[derive(Clone, Debug, PartialEq)]
pub struct TransitionSpec<G, A> {
    /// Event descriptors: `e` matches `e` and `e.f`, `*` matches all. Empty: taken as soon as the guard
    /// holds.
    pub events: Vec<String>,
    /// What must hold.
    pub guard: Option<G>,
    /// Names of states; empty: nothing is left or entered.
    pub target: Vec<String>,
    /// Does not leave the state that it is written in, if all targets are inside.
    pub internal: bool,
    /// What is done, after leaving and before entering.
    pub actions: Vec<A>,
}

impl<G, A> StateSpec<G, A> {
    /// A state with nothing in it yet.
    pub fn new(id: impl Into<String>, kind: SpecKind<A>) -> Self {
        let id = id.into();
        Self {
            id,
            kind,
            on_entry: Vec::new(),
            on_exit: Vec::new(),
            transitions: Vec::new(),
            states: Vec::new(),
        }
    }
}

/// Where in a chart a fault lies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// The chart as a whole.
    Chart,
    /// A state.
    State(String),
    /// A state's transition, counted from nought.
    Transition(String, usize),
}

/// One fault in a chart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChartFault {
    /// Where.
    pub place: Place,
    /// What is wrong.
    pub message: String,
    /// What to write instead.
    pub hint: Option<String>,
}
