#version 330 core
// Each instance goes into a picture of its own.
layout(triangles) in;
layout(triangle_strip, max_vertices = 3) out;
in vec2 place[];
flat in int layer[];
out vec3 place_in;
void main() {
    for (int corner = 0; corner < 3; corner++) {
        gl_Position = gl_in[corner].gl_Position;
        gl_Layer = layer[corner];
        place_in = vec3(place[corner], float(layer[corner]));
        EmitVertex();
    }
}
