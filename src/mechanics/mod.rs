//! What lies in the vessel: rods, deployment, contact and gaps, leaks, balloons, injury.
