//! The shelf: wires, catheters, sheaths, grafts, balloons and drugs as data. Generic, no makers.
