"""A bench weighing station: what should go in, what is going in, what went in."""

CAUTION = (
    "The station weighs and computes. It replaces neither a validated process nor local food law"
    " nor the advice of a licensed practitioner. Curing agents can harm: check every figure."
)

__version__ = "0.1.0"
