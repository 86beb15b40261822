"""Pure calculations of the trade: numbers in SI in, a Working with formula, values, basis and result out."""
