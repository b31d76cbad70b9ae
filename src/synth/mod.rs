//! Renders sample clips of known truth; off the flow, uses units and the encoder only.
