package plan

import "sort"

// headline is the row of CropGroups taken where a crop group is not given.
const headline = "most crops (headline)"

// cropGroups is the yield lost for 1 % less light, in %, as a range per crop
// group: Marcelis et al. 2006, Acta Horticulturae 711:97-104.
var cropGroups = map[string]Range{
	"soil-grown vegetables":    {0.8, 1.0},
	"fruit vegetables":         {0.7, 1.0},
	"cut flowers":              {0.6, 1.0},
	"bulb flowers":             {0.25, 1.25},
	"flowering pot plants":     {0.5, 1.0},
	"non-flowering pot plants": {0.65, 0.65},
	headline:                   {0.5, 1.0},
}

// CropGroups are the names that Terms.CropGroup knows, sorted.
func CropGroups() []string {
	names := make([]string, 0, len(cropGroups))
	for n := range cropGroups {
		names = append(names, n)
	}
	sort.Strings(names)
	return names
}
