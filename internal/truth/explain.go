package truth

// notCompared are files no fair comparison can be made of, each with the reason.
var notCompared = map[string]string{
	"itext-dotnet__exponentialXObjectLoop.pdf": "runs past every limit in all three programs",
}

// daily are the files the ordinary test run compares; `make truth` takes all.
var daily = map[string]bool{}

// explained tells, by file and plate ("" = all plates), which clause decides a difference.
var explained = map[[2]string]string{}

func explain(r *Row) string {
	if s, ok := explained[[2]string{r.File, r.Plate}]; ok {
		return s
	}
	if r.Verdict() == "both" {
		return ""
	}
	return explained[[2]string{r.File, ""}]
}
