package page

import (
	_ "embed"
	"html/template"
	"reflect"
	"strings"

	"sinkproof/reports/page/plot"
)

//go:embed study.html.tmpl
var studyTemplate string

var studyPage = newForm("study", studyTemplate)

// The sizes of a study's pictures, in points.
const (
	studyHeight = 190.0
	halfWidth   = 247.0
	halfHeight  = 165.0
)

func (f StudyFigure) size() (width, height float64) {
	if f.Half {
		return halfWidth, halfHeight
	}
	return bodyWidth, studyHeight
}

// studyPicture is a picture ready for the page.
type studyPicture struct {
	SVG  template.HTML
	Half bool
}

// studyPart is a section ready for the page.
type studyPart struct {
	StudySection
	Pictures []studyPicture
}

// answered parts a verdict into its word and its reason.
func (s Study) answered() (answer, why string) {
	answer, why, _ = strings.Cut(s.Verdict, ": ")
	return answer, why
}

// HTML returns the study as one self-contained page: no script, no external
// reference.
func (s Study) HTML() ([]byte, error) {
	s = clone(reflect.ValueOf(s)).Interface().(Study)
	replace(reflect.ValueOf(&s).Elem(), plot.Visible)
	view := struct {
		Study
		Style       template.CSS
		Answer, Why string
		Parts       []studyPart
	}{Study: s, Style: template.CSS(styleSheet)}
	view.Answer, view.Why = s.answered()
	for _, section := range s.Sections {
		part := studyPart{StudySection: section}
		for _, f := range section.Figures {
			width, height := f.size()
			svg, err := f.SVG(width, height)
			if err != nil {
				return nil, err
			}
			part.Pictures = append(part.Pictures, studyPicture{template.HTML(svg), f.Half})
		}
		view.Parts = append(view.Parts, part)
	}
	return studyPage.fill(view)
}
