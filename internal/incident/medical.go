package incident

import (
	"regexp"
	"strings"
)

// What the free text of an incident must not hold: infection status, vaccination, medicine, diagnosis, in English and
// Spanish. The list is from memory; it errs towards refusing, because such a detail cannot be taken back out of a record.
var (
	medical = regexp.MustCompile(`\b(` + strings.Join([]string{
		// infection status
		`hiv`, `vih`, `sida`, `hepatitis`, `hep ?[abc]`, `hbv`, `hcv`, `hbsag`, `vhb`, `vhc`, `seroconver\w*`, `sero-?positiv\w*`, `sero-?negativ\w*`, `serolog\w*`,
		`antibod(?:y|ies)`, `anticuerpos?`, `antigens?`, `antigenos?`, `tit(?:er|re)s?`, `viral load`, `carga viral`, `cd4`, `syphilis`, `sifilis`, `tuberculosis`,
		`infected`, `infectad[oa]s?`, `infections?`, `infeccion(?:es)?`, `contagious`, `contagios[oa]s?`, //nolint:misspell // Spanish
		`(?:tested|came back|tests) (?:positive|negative)`, `(?:source|donor|patient|participant|person|man|woman|he|she|they) (?:is|was|are|were) (?:positive|negative)`, `(?:positive|negative) for`,
		`(?:salio|dio) (?:positiv[oa]|negativ[oa])`, `blood (?:type|group)`, `tipo de sangre`, `grupo sanguineo`,
		// vaccination
		`(?:un)?vaccin\w*`, `vacuna\w*`, `immuni[sz]\w*`, `inmuniz\w*`, `booster shots?`, `tetanus`, `tetanos`,
		// medicine
		`medications?`, `medicines?`, `medicacion`, `medicamentos?`, `medicinas?`, `prescri\w*`, `recetad[oa]s?`, `prophyla\w*`, `profila\w*`, `antiretroviral\w*`, `antirretroviral\w*`, //nolint:misspell // Spanish
		`antivirals?`, `antibiotic\w*`, `anticoagul\w*`, `blood thinners?`, `insulina?`, `metformina?`, `warfarina?`, `heparina?`, `aspirina?`, `pills?`, `pastillas?`,
		// diagnosis and condition
		`diagnos\w*`, `pregnan\w*`, `embarazad[oa]s?`, `embarazos?`, `diabetics?`, `diabetic[oa]s?`, `has diabetes`, `tiene diabetes`, `epilep\w*`, `cancer`, `asthma\w*`, `asmatic[oa]s?`,
		`medical history`, `historia clinica`, `antecedentes medicos`,
	}, `|`) + `)\b`)
	// capitals alone: in small letters these are other words
	capitals = regexp.MustCompile(`\b(AIDS|PEP|PrEP|TB|STI|STD)\b`)
	// not medical in the record of a fair
	harmless = regexp.MustCompile(`\b(infection (?:control|prevention)|control de infecciones|prevencion de infecciones|(?:is|was|are|were) (?:positive|negative) (?:that|about))\b`) //nolint:misspell // Spanish
	accents  = strings.NewReplacer("á", "a", "é", "e", "í", "i", "ó", "o", "ú", "u", "ü", "u")
)

// Medical finds the first words in a text that belong to a clinician and not to this log; "" when there are none.
func Medical(text string) string {
	if m := capitals.FindString(text); m != "" {
		return m
	}
	plain := harmless.ReplaceAllString(accents.Replace(strings.ToLower(text)), " ")
	return medical.FindString(plain)
}
