package limits

// Caps on painting patterns and shadings.
const (
	// RampBytes of tabled colours of shadings kept while a page is painted: over a thousand gradients of
	// the usual size.
	RampBytes = 64 << 20
	// MaxMeshTriangles of one gradient mesh: more than one for every two pixels of A4 at 300 dpi.
	MaxMeshTriangles = 4 << 20
	// MeshBytes of gradient meshes kept while a page is painted.
	MeshBytes = 256 << 20
	// MaxTilingEntries of the raster of one tile, all components together: 32 MB. Larger tiles are few on
	// a page and are painted one by one.
	MaxTilingEntries = 16 << 20
	// TransferBytes of tabled transfer functions of soft masks kept while a page is painted: 128 of them.
	TransferBytes = 16 << 20
	// TilingBytes of rasters of tiles kept while a page is painted.
	TilingBytes = 128 << 20
)
