"""What should go in: formulas, scaling, curing agents and limits. Pure: values in, values out."""
