"""The card, the curve, the chart and the light: from decoded light to colour."""
