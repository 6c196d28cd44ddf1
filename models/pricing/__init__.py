"""From a bill and a plan to a price: margins, VAT, grant, stages."""
