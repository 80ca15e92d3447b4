package element

// The joint elements of the specification, measured in feet along the joint.
const (
	StripSeal           = 300
	PourableSeal        = 301
	CompressionSeal     = 302
	AssemblyWithSeal    = 303 // modular
	OpenJoint           = 304
	AssemblyWithoutSeal = 305 // finger or sliding plate
	OtherJoint          = 306
)

var jointNames = [...]string{
	"strip seal", "pourable seal", "compression seal", "modular joint",
	"open joint", "finger or sliding plate joint", "other joint",
}

// IsJoint reports whether an element is a deck joint, 300 to 306.
func IsJoint(number int) bool {
	return number >= StripSeal && number <= OtherJoint
}

// JointName returns the plain name of a joint element, "" for any other.
func JointName(number int) string {
	if !IsJoint(number) {
		return ""
	}
	return jointNames[number-StripSeal]
}
