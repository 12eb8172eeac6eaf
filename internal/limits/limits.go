// Package limits holds every cap of the program in one place, each with its reason. Passing one is
// a finding of class OverLimit, never a crash and never silent.
package limits

// Caps on files and objects.
const (
	// MaxFileBytes: artwork is read by offset, not slurped, but repair scans it whole.
	MaxFileBytes = 4 << 30
	// MaxObjects: the largest public test file has about 300,000; xref streams can claim billions.
	MaxObjects = 8 << 20
	// MaxNesting of arrays and dictionaries; ISO 32000 readers see below 30 in practice.
	MaxNesting = 128
	// MaxRefHops in one chain of indirect references.
	MaxRefHops = 32
	// MaxPages walked in a page tree.
	MaxPages = 100_000
	// MaxStringBytes in one string or name token.
	MaxStringBytes = 64 << 20
)

// Decode budgets: a document may expand to DecodeFloor + DecodeFactor x its size, at most DecodeCeiling.
const (
	DecodeFloor   = 64 << 20
	DecodeFactor  = 200
	DecodeCeiling = 1 << 30
	// MaxStreamBytes of one decoded stream: one A3 image at 600 dpi in 8-bit CMYK is 280 MB.
	MaxStreamBytes = 512 << 20
)

// Caps on page description.
const (
	// MaxOperators executed for one page, forms included; hostile files nest forms exponentially.
	MaxOperators = 4_000_000
	// MaxItems in one display list.
	MaxItems = 1_000_000
	// MaxGraphicsStates is the depth of q.
	MaxGraphicsStates = 512
	// MaxMarkedContent is how many marked-content sequences may be open in one stream.
	MaxMarkedContent = 10_000
	// MaxFormDepth of nested forms, patterns, Type 3 glyphs and soft masks.
	MaxFormDepth = 28
	// MaxFormCalls of forms, Type 3 glyphs and masks drawn for one page in all.
	MaxFormCalls = 200_000
	// MaxPathPoints of one path.
	MaxPathPoints = 5_000_000
	// MaxDashes in one stroke after dashing: a 1 pt dash along 350 m.
	MaxDashes = 1_000_000
	// MaxGroupDepth of nested transparency groups while painting.
	MaxGroupDepth = 40
)

// Caps on images, fonts and colour.
const (
	// MaxImagePixels of one image: A1 at 600 dpi.
	MaxImagePixels = 300_000_000
	// MaxImageSide in samples.
	MaxImageSide = 1 << 20
	// MaxComponents of a DeviceN space (ISO 32000-1 Annex C gives 32; larger ones exist).
	MaxComponents = 64
	// MaxFontBytes of one font program.
	MaxFontBytes = 64 << 20
	// MaxFunctionSamples of one sampled function.
	MaxFunctionSamples = 16 << 20
	// MaxCalculatorOps executed in one call of a type 4 function.
	MaxCalculatorOps = 100_000
)

// Caps on plates.
const (
	// MaxColourants of one stack.
	MaxColourants = 64
	// MaxPlateSide in pixels: 3.9 m at 600 dpi is 92,000.
	MaxPlateSide = 200_000
	// MaxPagePixels rendered for one page: A0 at 600 dpi is 558 Mpx.
	MaxPagePixels = 800_000_000
)

// Caps on reading a file's structure.
const (
	// MaxSmallFile: the structure of files up to this size is kept as it was read, that of larger ones is read anew.
	MaxSmallFile = 64 << 20
	// MaxXrefSections in one /Prev chain; a file saved a thousand times over is a rarity.
	MaxXrefSections = 4096
	// MaxValues parsed in one object: an entry of an array takes two bytes in the file and 24 in memory, one of a
	// dictionary five and some 100.
	MaxValues = 3 << 20
	// ObjectCacheBytes of parsed objects and ObjectStreamCacheBytes of decoded object streams are kept; what was not
	// asked for lately is read from the file again.
	ObjectCacheBytes       = 192 << 20
	ObjectStreamCacheBytes = 64 << 20
	// DecodeLargeFactor lets large files expand beyond DecodeCeiling: their images are decoded one after the other.
	DecodeLargeFactor = 20
	// ParseFloor + ParseFactor x the file size is how many bytes are parsed in all; a sound file is parsed once.
	ParseFloor  = 16 << 20
	ParseFactor = 8
	// MaxDataBytes of one decoded stream that is no image, and of one page's content: a map of 4 million operators
	// takes about 80 MB.
	MaxDataBytes = 128 << 20
	// DataCeiling is DecodeCeiling for what is no image: the forms of a page lie in memory at the same time.
	DataCeiling = 384 << 20
	// MaxFilters in the chain of one stream; two are common, four are a curiosity.
	MaxFilters = 16
	// MaxRepairStreams decoded while scanning a damaged file for objects inside object streams.
	MaxRepairStreams = 200_000
)

// Caps on definition files (press, stock, job).
const (
	// MaxDefinitionBytes: the largest shipped definition has about 5 kB; the YAML parser is slow on odd input.
	MaxDefinitionBytes = 256 << 10
	// MaxDefinitionDepth of nested YAML; ours need six, and the parser recurses.
	MaxDefinitionDepth = 64
	// MaxDefinitionNodes read from one file, aliases counted each time they are followed.
	MaxDefinitionNodes = 20_000
	// MaxSets of one press and MaxStations of one set: the search for passes is exact.
	MaxSets     = 24
	MaxStations = 16
	// MaxLookToners laid over each other in the appearance model: it tables 2^n overprints.
	MaxLookToners = 16
)

// Caps on rasterising.
const (
	// MaxEdges of one flattened path (16 bytes each) and points of one stroke's outline; past it curves
	// become their chords and dashes end.
	MaxEdges = 4 << 20
)

// Caps on colour spaces.
const (
	// MaxProfileBytes of one ICC profile: CMYK profiles with fine tables reach 10 MB.
	MaxProfileBytes = 32 << 20
	// MaxSpaceDepth of colour spaces within each other: Pattern over Indexed over NChannel over an
	// ICC alternate is four.
	MaxSpaceDepth = 8
	// MaxFunctionDepth of stitched functions within each other.
	MaxFunctionDepth = 16
	// MaxFunctionParts in one stitching function or array of functions; gradients export a few hundred.
	MaxFunctionParts = 4096
)

// Caps on content streams.
const (
	// MaxOperands of one operator: scn with 32 colourants and a pattern has 33.
	MaxOperands = 512
	// MaxOperandValues in one array or dictionary operand; TJ of a long line has some hundreds.
	MaxOperandValues = 1 << 20
)

// ImageCacheBytes of decoded samples kept for pages that show the same image again: an A4 photo of 300 dpi in CMYK takes 35 MB.
// With 256 MB a document of A3 photos peaked at 570 MB.
const ImageCacheBytes = 64 << 20

// Caps on painting. Work is counted in square points of a plain fill (package paint tells what weighs more).
const (
	// PaintWorkFloor + PaintWorkFactor x the page's area is painted: on A4 over 150 filled groups of the size of
	// the page, or 50 of them in a blend mode, or 50 soft masks, or two images of the largest size. The heaviest public test page that
	// is no attack takes an eighth.
	PaintWorkFloor  = 300_000_000
	PaintWorkFactor = 800
)

// Caps on JPEG 2000.
const (
	// MaxWaveletBytes of coefficients held for one tile, 4 each: an A3 photo of 600 dpi in CMYK as one tile takes 290 MB.
	MaxWaveletBytes = 384 << 20
	// MaxCodeBlocks of a tile, and precincts: of 64 x 64 samples A1 at 600 dpi in CMYK has 300,000.
	MaxCodeBlocks = 2 << 20
)

// MaxMeshNumbers are the coordinates and colour values kept of all shading meshes of one page (128 MB): a mesh of
// 100,000 patches in CMYK has some 5 million.
const MaxMeshNumbers = 16 << 20

// Caps on JBIG2.
const (
	// MaxBilevelBytes of bitmaps held at a time: pages of MaxImagePixels take 38 MB, and symbols of a sane file far less.
	MaxBilevelBytes = 192 << 20
	// MaxBilevelWork in pixels decoded, or bytes of bitmaps laid over each other: two of the largest pages, eight of A3.
	MaxBilevelWork = 600_000_000
	// MaxSymbols of one dictionary with those it builds on; a scanned book page has some hundreds.
	MaxSymbols = 1 << 18
)

// Caps on drawing characters.
const (
	// MaxGlyphWork of one page, in steps of 5 ns: a page of ten thousand different ideographs takes a tenth. Four of
	// each point's are for the memory it keeps, so that a page holds 16 million points (256 MB) at most.
	MaxGlyphWork = 64_000_000
	// FontCacheBytes of programs and outlines kept for later pages.
	FontCacheBytes = 256 << 20
)

// Caps on ICC profiles and output intents.
const (
	// MaxProfileTags of one ICC profile: the richest in use have about forty.
	MaxProfileTags = 512
	// MaxOutputIntents read of one array: one for each standard a file follows, two or three.
	MaxOutputIntents = 16
)

// Caps on tables of measured data.
const (
	// MaxTableBytes of one file: 6,000 spectral patches take 2 MB.
	MaxTableBytes = 32 << 20
	// MaxTables in one file; calibration, targets and data of one press make three.
	MaxTables = 64
	// MaxTableFields of one table: 401 wavelengths, tints and colours stay below 500.
	MaxTableFields = 1024
	// MaxTableKeywords of one table; about 30 are usual.
	MaxTableKeywords = 10_000
	// MaxTableValues of one table, 16 bytes each and their text.
	MaxTableValues = 4 << 20
)

// Caps on archives handed to a print provider.
const (
	// MaxHandoverFiles of one archive: passes, sheets, tickets, pictures of pages; a book of 1,000 pages has some thousands.
	MaxHandoverFiles = 20_000
	// MaxManifestBytes of the manifest and of a job ticket, which are read whole: 20,000 files take 6 MB.
	MaxManifestBytes = 16 << 20
)
