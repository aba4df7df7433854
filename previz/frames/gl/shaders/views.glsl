// Where a view is taken from: of one view, or of all that are drawn at once, each into its own layer.
#ifdef AT_ONCE
struct View {
    mat4 clip_from_world;
    mat4 world_from_vehicle;
    mat4 ground_from_world;
    vec3 eye;
    float travelled;
    float detail;                      // added to a level of detail before it is rounded
};
layout(std140) uniform Views { View views[AT_ONCE]; };
#define VIEW(what) views[gl_InstanceID].what
#define CHOOSE_LAYER gl_Layer = gl_InstanceID
#else
uniform mat4 clip_from_world;
uniform mat4 world_from_vehicle;
uniform mat4 ground_from_world;
uniform vec3 eye;
uniform float travelled;
uniform float detail;
#define VIEW(what) what
#define CHOOSE_LAYER
#endif
