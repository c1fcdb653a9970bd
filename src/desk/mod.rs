//! The window: Bevy owns it and the loop; panels are plain egui functions that return orders.
